import type {
  Bundle,
  CapabilityStatement,
  CapabilityStatementRestResource,
  OperationOutcome,
} from 'fhir/r4.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { searchParametersOf } from './search-parameters.js';

type Issue = OperationOutcome['issue'][number];

export function outcome(
  severity: Issue['severity'],
  code: Issue['code'],
  diagnostics: string,
): OperationOutcome {
  return { resourceType: 'OperationOutcome', issue: [{ severity, code, diagnostics }] };
}

export interface Page {
  readonly base: string;
  readonly self: string;
  readonly next: string | undefined;
  readonly total: number;
  readonly resources: readonly JsonObject[];
  readonly warning: boolean;
}

export function searchPage(page: Page): Bundle {
  const link = [
    { relation: 'self', url: page.self },
    ...(page.next === undefined ? [] : [{ relation: 'next', url: page.next }]),
  ];
  const matches = page.resources.map((resource) => ({
    fullUrl: `${page.base}/${String(resource['resourceType'])}/${String(resource['id'])}`,
    resource,
    search: { mode: 'match' },
  }));
  const warning = {
    resource: outcome('warning', 'processing', 'a parameter was not needed'),
    search: { mode: 'outcome' },
  };
  const entry = [...matches, ...(page.warning ? [warning] : [])];
  const bundle = { resourceType: 'Bundle', type: 'searchset', total: page.total, link };
  return (entry.length === 0 ? bundle : { ...bundle, entry }) as Bundle;
}

const TYPES = [
  'Appointment',
  'Condition',
  'Device',
  'DeviceRequest',
  'DeviceUseStatement',
  'Encounter',
  'Observation',
  'Patient',
  'PractitionerRole',
  'Procedure',
  'QuestionnaireResponse',
  'ServiceRequest',
] as const;

export function capabilities(unknownTypes: readonly string[]): CapabilityStatement {
  return {
    resourceType: 'CapabilityStatement',
    status: 'active',
    date: '2026-01-01',
    kind: 'instance',
    implementation: { description: 'FHIR server of the tests' },
    fhirVersion: '4.0.1',
    format: ['json'],
    rest: [
      {
        mode: 'server',
        resource: TYPES.filter((type) => !unknownTypes.includes(type)).map((type) => ({
          type,
          interaction: [{ code: 'read' }, { code: 'search-type' }],
          ...searchParam(type),
        })),
      },
    ],
  };
}

const TOKENS = ['status', 'clinical-status', 'category', 'code'];

function searchParam(type: string): Pick<CapabilityStatementRestResource, 'searchParam'> {
  const known = ['patient', 'questionnaire', ...TOKENS].filter((name) => searchParametersOf(type)?.has(name));
  if (known.length === 0) return {};
  return {
    searchParam: known.map((name) => ({ name, type: TOKENS.includes(name) ? 'token' : 'reference' })),
  };
}

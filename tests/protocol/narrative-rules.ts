import { contextModels } from './published-models.js';

export type JsonObject = Readonly<Record<string, unknown>>;

/**
 * A rule the models' cardinalities, types and bindings do not express. `key` is the key of a published invariant
 * or a row of the conformance list drawn from the narrative (see README.md). `at` is a model path or a type name;
 * a primitive there is seen as `{ value }`.
 */
export interface Rule {
  readonly key: string;
  readonly at: string;
  readonly severity?: 'warning';
  /** The member the issue points at; the object itself when absent. */
  readonly member?: string;
  readonly expected: string;
  readonly isBroken: (node: JsonObject) => boolean;
}

const card = 'CDSHooksResponse.cards';
const suggestion = `${card}.suggestions`;
const action = `${suggestion}.actions`;
const link = `${card}.links`;
const authorization = 'CDSHooksRequest.fhirAuthorization';
const feedback = 'CDSHooksFeedback.feedback';

export const isObject = (value: unknown): value is JsonObject =>
  typeof value === 'object' && value !== null && !Array.isArray(value);
const has = (node: JsonObject, member: string) => node[member] !== undefined;
const objects = (value: unknown): JsonObject[] => (Array.isArray(value) ? value.filter(isObject) : []);
const isFilled = (value: unknown) => typeof value === 'string' && value.trim() !== '';
const isAbsoluteUrl = (value: unknown) => typeof value === 'string' && /^https?:\/\/[^\s/]+\S*$/.test(value);
/** Own form of invariant ord-1, whose published expression has doubled escapes. */
const isTypeSlashId = (value: unknown) =>
  typeof value === 'string' && /^[A-Z][A-Za-z]+\/[A-Za-z0-9\-.]{1,64}$/.test(value);

const invariants: Rule[] = [
  {
    key: 'cds-resp-1',
    at: card,
    member: 'suggestions',
    expected: 'at most one recommended suggestion when selectionBehavior is at-most-one',
    isBroken: (node) =>
      node['selectionBehavior'] === 'at-most-one' &&
      objects(node['suggestions']).filter((each) => each['isRecommended'] === true).length > 1,
  },
  {
    key: 'cds-resp-2',
    at: action,
    severity: 'warning',
    expected: 'resourceId and no resource when type is delete',
    isBroken: (node) => node['type'] === 'delete' && (!has(node, 'resourceId') || has(node, 'resource')),
  },
  {
    key: 'cds-resp-3',
    at: link,
    member: 'appContext',
    expected: 'appContext only on links of type smart',
    isBroken: (node) => node['type'] !== 'smart' && has(node, 'appContext'),
  },
  {
    key: 'cds-resp-4',
    at: `${card}.overrideReasons`,
    member: 'display',
    expected: 'a display for each override reason',
    isBroken: (node) => !isFilled(node['display']),
  },
  {
    key: 'cds-resp-5',
    at: suggestion,
    member: 'actions',
    expected: 'a description for each action of a suggestion',
    isBroken: (node) => objects(node['actions']).some((each) => !isFilled(each['description'])),
  },
  {
    key: 'cds-resp-6',
    at: card,
    member: 'selectionBehavior',
    expected: 'selectionBehavior when there are suggestions',
    isBroken: (node) => has(node, 'suggestions') && !has(node, 'selectionBehavior'),
  },
  {
    key: 'cds-resp-7',
    at: suggestion,
    member: 'actionSelectionBehavior',
    expected: 'all, any or at-most-one',
    isBroken: (node) =>
      has(node, 'actionSelectionBehavior') &&
      !['all', 'any', 'at-most-one'].includes(String(node['actionSelectionBehavior'])),
  },
  {
    key: 'cds-r-1',
    at: 'CDSHooksRequest',
    member: 'fhirServer',
    expected: 'fhirServer when there is fhirAuthorization',
    isBroken: (node) => has(node, 'fhirAuthorization') && !has(node, 'fhirServer'),
  },
  {
    key: 'cds-r-2',
    at: authorization,
    severity: 'warning',
    member: 'patient',
    expected: 'patient when a granted scope begins patient/',
    isBroken: (node) => /(^|\s)patient\//.test(String(node['scope'])) && !has(node, 'patient'),
  },
  {
    key: 'cds-fb-1',
    at: feedback,
    member: 'outcome',
    expected: 'accepted or overridden',
    isBroken: (node) => node['outcome'] !== 'accepted' && node['outcome'] !== 'overridden',
  },
  {
    key: 'cds-fb-2',
    at: feedback,
    member: 'acceptedSuggestions',
    expected: 'acceptedSuggestions when outcome is accepted',
    isBroken: (node) => node['outcome'] === 'accepted' && objects(node['acceptedSuggestions']).length === 0,
  },
  {
    key: 'cds-fb-3',
    at: `${feedback}.overrideReason`,
    expected: 'reason, userComment or both',
    isBroken: (node) => !has(node, 'reason') && !has(node, 'userComment'),
  },
  ...[
    ...Object.values(contextModels).map((model) => `${model}.userId`),
    'CDSHookOrderSelectContext.selections',
  ].map((at) => ({
    key: 'ord-1',
    at,
    expected: '{type}/{id}',
    isBroken: ({ value }: JsonObject) => !isTypeSlashId(value),
  })),
];

const narrative: Rule[] = [
  {
    key: 'C2',
    at: 'CDSHooksResponse',
    member: 'cards',
    expected: 'an array, empty when there is nothing to say',
    isBroken: (node) => !Array.isArray(node['cards']),
  },
  {
    key: 'C4',
    at: card,
    member: 'summary',
    expected: 'fewer than 140 characters',
    isBroken: ({ summary }) => typeof summary === 'string' && summary.length >= 140,
  },
  {
    // The published code system says error where the specification says critical, so its binding is not used.
    key: 'C6',
    at: card,
    member: 'indicator',
    expected: 'info, warning or critical',
    isBroken: (node) => !['info', 'warning', 'critical'].includes(String(node['indicator'])),
  },
  {
    key: 'C7',
    at: `${card}.source`,
    member: 'label',
    expected: 'a label that is not blank',
    isBroken: (node) => !isFilled(node['label']),
  },
  ...['url', 'icon'].map((member) => ({
    key: 'C7',
    at: `${card}.source`,
    member,
    expected: 'an absolute URL',
    isBroken: (node: JsonObject) => has(node, member) && !isAbsoluteUrl(node[member]),
  })),
  {
    key: 'C14',
    at: action,
    member: 'resource',
    expected: 'a resource when type is create or update, with an id when it is update',
    isBroken: ({ type, resource }) =>
      (type === 'create' && !isObject(resource)) ||
      (type === 'update' && !(isObject(resource) && isFilled(resource['id']))),
  },
  {
    key: 'C18',
    at: link,
    member: 'type',
    expected: 'absolute or smart; may not be left out',
    isBroken: (node) => !has(node, 'type'),
  },
  {
    key: 'C18',
    at: link,
    member: 'url',
    expected: 'an absolute URL',
    isBroken: (node) => has(node, 'url') && !isAbsoluteUrl(node['url']),
  },
  ...['code', 'system'].map((member) => ({
    key: 'C22',
    at: 'Coding',
    member,
    expected: 'code and system in each Coding',
    isBroken: (node: JsonObject) => !isFilled(node[member]),
  })),
  {
    key: 'D2',
    at: 'CDSHooksServices',
    member: 'services',
    expected: 'an array, empty when there are no services',
    isBroken: (node) => !Array.isArray(node['services']),
  },
  {
    key: 'D8',
    at: 'CDSHooksServices.services',
    member: 'version',
    expected: 'a semantic version of the specification',
    isBroken: (node) => has(node, 'version') && !/^\d+\.\d+\.\d+(-[\w.-]+)?$/.test(String(node['version'])),
  },
  {
    key: 'R2',
    at: 'CDSHooksRequest',
    member: 'hook',
    expected: `one of ${Object.keys(contextModels).join(', ')}`,
    isBroken: (node) => !Object.hasOwn(contextModels, String(node['hook'])),
  },
  {
    key: 'R6',
    at: authorization,
    member: 'token_type',
    expected: 'exactly Bearer',
    isBroken: (node) => node['token_type'] !== 'Bearer',
  },
  {
    key: 'H1',
    at: 'CDSHookOrderSelectContext',
    member: 'selections',
    expected: 'at least one selection',
    isBroken: ({ selections }) => !Array.isArray(selections) || selections.length === 0,
  },
  {
    key: 'B2',
    at: 'CDSHooksFeedback',
    member: 'feedback',
    expected: 'an array of feedback items',
    isBroken: (node) => !Array.isArray(node['feedback']),
  },
  {
    key: 'B3',
    at: feedback,
    member: 'outcomeTimestamp',
    expected: 'a time in UTC',
    isBroken: ({ outcomeTimestamp }) => !/(Z|[+-]00:00)$/.test(String(outcomeTimestamp)),
  },
];

export const rules: readonly Rule[] = [...invariants, ...narrative];

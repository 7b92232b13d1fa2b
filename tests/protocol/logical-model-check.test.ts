import { describe, expect, it } from 'vitest';
import { fhirIssues } from '../oracles/fhir-validity.js';
import { checkFeedback, checkRequest, checkResponse, checkServices } from './logical-model-check.js';
import type { CheckIssue } from './logical-model-check.js';
import { rules } from './narrative-rules.js';
import { contextModels, publishedCodes, readPublished } from './published-models.js';

const checks = {
  CDSHooksResponse: checkResponse,
  CDSHooksServices: checkServices,
  CDSHooksRequest: checkRequest,
  CDSHooksFeedback: checkFeedback,
};
type Model = keyof typeof checks;

interface ConformanceCase {
  readonly name: string;
  readonly input: string;
  readonly model: Model | null;
  readonly expected: string | null;
  readonly upstreamErrors: number | null;
  readonly narrativeSpecIssues: readonly string[];
}

interface UpstreamIssue {
  readonly severity: string;
  readonly details: { readonly text: string };
  readonly expression: readonly [string];
}

const conformance = (path: string): unknown => JSON.parse(readPublished(`conformance/${path}`));
const { cases } = conformance('manifest.json') as { cases: ConformanceCase[] };
const issuesOf = ({ model, input }: ConformanceCase) =>
  checks[model ?? 'CDSHooksResponse'](conformance(input));

/** Upstream errors which a checker of the message alone does not report. Every other upstream error must be found. */
const notReported: readonly { id: string; message: RegExp; reason: string }[] = [
  {
    id: 'named-extension',
    message: /^Unrecognized property '.*'$/,
    reason:
      'T2, T3: extension names are agreed between the parties; the upstream run had a registry of its own',
  },
  {
    id: 'full-url',
    message: /fullUrl/,
    reason: 'H3: Bundles in a context are not required to have fullUrl, and published examples leave it out',
  },
  {
    id: 'fhir-extension',
    message: /^The extension .* could not be found so is not allowed here$/,
    reason: 'needs the definitions of a foreign FHIR guide',
  },
  {
    id: 'fhir-code',
    message: /'Xactive'/,
    reason: 'inside a FHIR resource: found by the FHIR oracle (asserted below)',
  },
  {
    id: 'fhir-date',
    message: /^Not a valid date format: 'X2002-09-26'/,
    reason: 'inside a FHIR resource: found by the FHIR oracle (asserted below)',
  },
  {
    id: 'resource-id',
    message: /^Resource requires an id, but none is present$/,
    reason: 'C14: a resource proposed for creation has no id yet',
  },
];

function upstreamErrors({ expected }: ConformanceCase): UpstreamIssue[] {
  if (expected === null) return [];
  const { issue = [] } = conformance(expected) as { issue?: UpstreamIssue[] };
  return issue.filter(({ severity }) => severity === 'error' || severity === 'fatal');
}

/** The upstream path in our form: `CDSHooksRequest.prefetch[0].value` is `$.prefetch.item1`. */
function jsonPath({ details, expression }: UpstreamIssue): string {
  const missing = /^[A-Za-z]+\.(?:\w+\.)*(\w+): minimum required/.exec(details.text)?.[1];
  const path = expression[0]
    .replace(/^CDSHooks\w+/, '$')
    .replace(/\.prefetch\[(\d+)\]\.value$/, (_, index) => `.prefetch.item${Number(index) + 1}`);
  return missing === undefined ? path : `${path}.${missing}`;
}

describe('the published conformance cases', () => {
  it('are the 22 cases of the manifest', () => {
    expect(cases).toHaveLength(22);
  });

  it.each(cases.filter(({ narrativeSpecIssues }) => narrativeSpecIssues.length > 0))(
    '$name is rejected where its manifest says the narrative is broken, and nowhere else',
    (each) => {
      const expected = each.narrativeSpecIssues.map((text) => `$.${text.split(' ')[0] ?? ''}`);
      const found = issuesOf(each).map(({ path }) => path);
      const related = (one: string) => (other: string) => one.startsWith(other) || other.startsWith(one);
      expect(expected.filter((path) => !found.some((other) => other.startsWith(path)))).toEqual([]);
      expect(found.filter((path) => !expected.some(related(path)))).toEqual([]);
    },
  );

  it.each(cases.filter(({ narrativeSpecIssues }) => narrativeSpecIssues.length === 0))(
    '$name breaks no rule of the narrative and passes',
    (each) => {
      expect(issuesOf(each)).toEqual([]);
    },
  );

  it.each(cases.filter((each) => upstreamErrors(each).length > 0))(
    '$name: each upstream error is found at its path or is in the table of errors not reported',
    (each) => {
      const errors = upstreamErrors(each);
      expect(errors).toHaveLength(each.upstreamErrors ?? 0);
      const paths = issuesOf(each).map(({ path }) => path);
      const missed = errors
        .filter(({ details }) => !notReported.some(({ message }) => message.test(details.text)))
        .filter((error) => {
          const path = jsonPath(error);
          return !paths.some((found) => found.startsWith(path));
        });
      expect(missed).toEqual([]);
    },
  );

  it.each(notReported)('$id is still an upstream error that is not reported: $reason', ({ message }) => {
    const messages = cases.flatMap(upstreamErrors).map(({ details }) => details.text);
    expect(messages.some((text) => message.test(text))).toBe(true);
  });

  it('leaves the wrong code and the wrong date inside resources to the FHIR oracle, which finds both', () => {
    const request = conformance('input/cdshooks-request-order-sign-bad-1.json') as {
      context: { draftOrders: object };
      prefetch: { item1: object };
    };
    expect(fhirIssues(request.context.draftOrders).join('\n')).toContain('"Xactive"');
    expect(fhirIssues(request.prefetch.item1).join('\n')).toContain('birthDate');
  });
});

describe('the published models', () => {
  it('name the same context model for each hook as the checker uses', () => {
    const request = readPublished('logical-models/structuredefinition-CDSHooksRequest.json').replace(
      /\s+/g,
      '',
    );
    for (const [hook, model] of Object.entries(contextModels)) {
      const specifier = `"%resource.hook='${hook}'"},{"url":"type","valueCode":"http://hl7.org/fhir/tools/StructureDefinition/${model}"`;
      expect(request).toContain(specifier);
    }
  });

  it('still say error instead of critical, which is why C6 replaces the binding of indicator', () => {
    expect(publishedCodes('CDSIndicator')).toEqual(['info', 'warning', 'error']);
  });
});

const uuid = '4e0a3a1e-3283-4575-ab82-028d55fe2719';
const coding = { system: 'http://example.org/reasons', code: 'seen', display: 'Seen' };

const goodResponse = {
  cards: [
    {
      uuid,
      summary: 'x'.repeat(139),
      detail: 'Some *detail*.',
      indicator: 'critical',
      source: {
        label: 'Rulebook',
        url: 'https://example.org',
        icon: 'https://example.org/i.png',
        topic: { code: 'hip', system: 'http://example.org/topics' },
      },
      suggestions: [
        {
          label: 'Review',
          uuid,
          isRecommended: true,
          actionSelectionBehavior: 'any',
          actions: [
            { type: 'create', description: 'Add a task', resource: { resourceType: 'Task' } },
            { type: 'update', description: 'Change a task', resource: { resourceType: 'Task', id: 't1' } },
            { type: 'delete', description: 'Remove a task', resourceId: 'Task/t2' },
          ],
        },
        { label: 'Leave' },
      ],
      selectionBehavior: 'at-most-one',
      overrideReasons: [coding],
      links: [
        { label: 'Page', url: 'https://example.org/page', type: 'absolute' },
        {
          label: 'App',
          url: 'https://example.org/launch',
          type: 'smart',
          appContext: 'e1',
          autolaunchable: false,
        },
      ],
      extension: { 'org.example.evidence': { rule: 'r1' } },
    },
  ],
  systemActions: [{ type: 'create', resource: { resourceType: 'Task' } }],
};

const goodServices = {
  services: [
    {
      hook: 'order-sign',
      title: 'Hip',
      description: 'Hip advice',
      id: 'hip',
      prefetch: { patient: 'Patient/{{context.patientId}}' },
      usageRequirements: 'For professionals',
      version: '3.0.0-ballot',
      hookVersion: '1.0',
    },
  ],
};

const bundle = { resourceType: 'Bundle', type: 'collection' };
const goodRequest = {
  hook: 'order-select',
  hookInstance: uuid,
  fhirServer: 'https://example.org/fhir',
  fhirAuthorization: {
    access_token: 'some-opaque-token',
    token_type: 'Bearer',
    expires_in: 300,
    scope: 'openid patient/Observation.rs',
    subject: 'service',
    patient: 'p1',
  },
  context: {
    userId: 'Practitioner/u1',
    patientId: 'p1',
    encounterId: 'e1',
    selections: ['ServiceRequest/s1'],
    draftOrders: bundle,
  },
  prefetch: {
    // FHIR pads a list of primitives with null where an item has only extensions.
    patient: { resourceType: 'Patient', id: 'p1', name: [{ given: [null, 'Ann'], _given: [{ id: 'g1' }] }] },
    plan: null,
  },
  extension: { 'org.example.site': 'north' },
};
const requestFor = (hook: string, context: object) => ({ ...goodRequest, hook, context });
const user = { userId: 'Practitioner/u1', patientId: 'p1' };

const goodFeedback = {
  feedback: [
    {
      card: uuid,
      outcome: 'accepted',
      acceptedSuggestions: [{ id: uuid }],
      outcomeTimestamp: '2024-05-01T10:00:00.5Z',
    },
    {
      card: uuid,
      outcome: 'overridden',
      overrideReason: { reason: coding, userComment: 'Seen' },
      outcomeTimestamp: '2024-05-01T10:00:00+00:00',
    },
    { card: uuid, outcome: 'overridden', outcomeTimestamp: '2024-05-01T10:00:00Z' },
  ],
};

describe('a message that keeps every rule', () => {
  it.each<[string, Model, unknown]>([
    ['a response with every member (sections 6 and 11)', 'CDSHooksResponse', goodResponse],
    ['a response without cards (C2, G4)', 'CDSHooksResponse', { cards: [] }],
    ['a listing with every member (D4 to D9)', 'CDSHooksServices', goodServices],
    ['a listing without services (D3, G4)', 'CDSHooksServices', { services: [] }],
    [
      'an order-select request with a null prefetch value and a padded list (G4)',
      'CDSHooksRequest',
      goodRequest,
    ],
    ['an order-sign request', 'CDSHooksRequest', requestFor('order-sign', { ...user, draftOrders: bundle })],
    [
      'an appointment-book request',
      'CDSHooksRequest',
      requestFor('appointment-book', { ...user, appointments: bundle }),
    ],
    ['a patient-view request', 'CDSHooksRequest', requestFor('patient-view', user)],
    ['feedback of three kinds (B2 to B5)', 'CDSHooksFeedback', goodFeedback],
  ])('passes: %s', (_, model, value) => {
    expect(checks[model](value)).toEqual([]);
  });
});

const good: Record<Model, object> = {
  CDSHooksResponse: goodResponse,
  CDSHooksServices: goodServices,
  CDSHooksRequest: goodRequest,
  CDSHooksFeedback: goodFeedback,
};

/** A copy of the good message with the member at the dotted path replaced; undefined removes it. */
function changed(model: Model, path: string, value: unknown): unknown {
  const copy = structuredClone(good[model]);
  const names = path.split('.');
  const last = names.pop() ?? '';
  const parent = names.reduce((node, name) => (node as Record<string, object>)[name] ?? {}, copy);
  if (value === undefined) Reflect.deleteProperty(parent, last);
  else Reflect.set(parent, last, value);
  return copy;
}

const response = 'CDSHooksResponse';
const services = 'CDSHooksServices';
const request = 'CDSHooksRequest';
const feedback = 'CDSHooksFeedback';
const card = 'cards.0';
const suggestion = 'cards.0.suggestions.0';

/** [rule, model, member changed, new value (undefined: removed), path of the issue] */
const broken: [string, Model, string, unknown, string][] = [
  // Cardinality, form, type, binding and known members: the logical models.
  ['model:min', response, `${card}.summary`, undefined, '$.cards[0].summary'],
  ['model:min', response, `${card}.source`, undefined, '$.cards[0].source'],
  ['model:min', response, `${card}.links.0.label`, undefined, '$.cards[0].links[0].label'],
  ['model:min', response, `${suggestion}.label`, undefined, '$.cards[0].suggestions[0].label'],
  ['model:min', response, 'systemActions.0.type', undefined, '$.systemActions[0].type'],
  ['model:min', services, 'services.0.hook', undefined, '$.services[0].hook'],
  ['model:min', services, 'services.0.id', undefined, '$.services[0].id'],
  ['model:min', services, 'services.0.description', undefined, '$.services[0].description'],
  ['model:min', request, 'hookInstance', undefined, '$.hookInstance'],
  ['model:min', request, 'context', undefined, '$.context'],
  ['model:min', request, 'context.patientId', undefined, '$.context.patientId'],
  ['model:min', request, 'fhirAuthorization.access_token', undefined, '$.fhirAuthorization.access_token'],
  ['model:min', feedback, 'feedback.0.card', undefined, '$.feedback[0].card'],
  [
    'model:min',
    feedback,
    'feedback.0.acceptedSuggestions.0.id',
    undefined,
    '$.feedback[0].acceptedSuggestions[0].id',
  ],
  ['model:max', response, `${card}.links`, { label: 'x' }, '$.cards[0].links'],
  ['model:max', request, 'context.selections', 'ServiceRequest/s1', '$.context.selections'],
  ['model:type', response, `${card}.source`, ['x'], '$.cards[0].source'],
  ['model:type', response, `${card}.links.0`, null, '$.cards[0].links[0]'],
  ['model:type', response, `${card}.summary`, 5, '$.cards[0].summary'],
  ['model:type', response, `${card}.detail`, ['x'], '$.cards[0].detail'],
  ['model:type', response, `${card}.uuid`, `urn:uuid:${uuid}`, '$.cards[0].uuid'],
  ['model:type', response, `${suggestion}.uuid`, 'card-1', '$.cards[0].suggestions[0].uuid'],
  ['model:type', response, `${suggestion}.isRecommended`, 'true', '$.cards[0].suggestions[0].isRecommended'],
  [
    'model:type',
    response,
    `${suggestion}.actions.0.resource`,
    { id: 'x' },
    '$.cards[0].suggestions[0].actions[0].resource',
  ],
  ['model:type', response, `${card}.source.topic`, 'hip', '$.cards[0].source.topic'],
  ['model:type', response, `${card}.links.0.url`, 'https://example.org/a b', '$.cards[0].links[0].url'],
  ['model:type', services, 'services.0.id', ' hip', '$.services[0].id'],
  ['model:type', services, 'services.0.prefetch', ['Patient/1'], '$.services[0].prefetch'],
  ['model:type', services, 'services.0.prefetch.patient', { query: 'x' }, '$.services[0].prefetch.patient'],
  ['model:type', services, 'services.0.prefetch', { 'a ': 'Patient/1' }, '$.services[0].prefetch.a  (key)'],
  ['model:type', request, 'hookInstance', 'not-a-uuid', '$.hookInstance'],
  ['model:type', request, 'context', 'patient-view', '$.context'],
  ['model:type', request, 'context.patientId', 'Patient/p1', '$.context.patientId'],
  ['model:type', request, 'context.draftOrders', { resourceType: 'ServiceRequest' }, '$.context.draftOrders'],
  ['model:type', request, 'fhirAuthorization.expires_in', '300', '$.fhirAuthorization.expires_in'],
  [
    'model:type',
    request,
    'prefetch.patient',
    { resource: { resourceType: 'Patient' } },
    '$.prefetch.patient',
  ],
  [
    'model:type',
    feedback,
    'feedback.0.outcomeTimestamp',
    '2024-05-01T10:00Z',
    '$.feedback[0].outcomeTimestamp',
  ],
  ['model:binding', response, `${card}.links.0.type`, 'relative', '$.cards[0].links[0].type'],
  ['model:binding', response, `${card}.selectionBehavior`, 'all', '$.cards[0].selectionBehavior'],
  ['model:binding', response, 'systemActions.0.type', 'patch', '$.systemActions[0].type'],
  ['model:unknown', response, 'card', [], '$.card'],
  ['model:unknown', response, `${card}.title`, 'x', '$.cards[0].title'],
  ['model:unknown', request, 'fhirAuthorization.accessToken', 'x', '$.fhirAuthorization.accessToken'],
  // Published invariants.
  [
    'cds-resp-1',
    response,
    `${card}.suggestions`,
    [
      { label: 'a', isRecommended: true },
      { label: 'b', isRecommended: true },
    ],
    '$.cards[0].suggestions',
  ],
  [
    'cds-resp-2',
    response,
    `${suggestion}.actions.2.resourceId`,
    undefined,
    '$.cards[0].suggestions[0].actions[2]',
  ],
  [
    'cds-resp-2',
    response,
    `${suggestion}.actions.2.resource`,
    { resourceType: 'Task' },
    '$.cards[0].suggestions[0].actions[2]',
  ],
  ['cds-resp-2', response, 'systemActions.0.type', 'delete', '$.systemActions[0]'],
  ['cds-resp-3', response, `${card}.links.0.appContext`, 'x', '$.cards[0].links[0].appContext'],
  [
    'cds-resp-4',
    response,
    `${card}.overrideReasons.0.display`,
    undefined,
    '$.cards[0].overrideReasons[0].display',
  ],
  [
    'cds-resp-5',
    response,
    `${suggestion}.actions.0.description`,
    undefined,
    '$.cards[0].suggestions[0].actions',
  ],
  ['cds-resp-6', response, `${card}.selectionBehavior`, undefined, '$.cards[0].selectionBehavior'],
  [
    'cds-resp-7',
    response,
    `${suggestion}.actionSelectionBehavior`,
    'none',
    '$.cards[0].suggestions[0].actionSelectionBehavior',
  ],
  ['cds-r-1', request, 'fhirServer', undefined, '$.fhirServer'],
  ['cds-r-2', request, 'fhirAuthorization.patient', undefined, '$.fhirAuthorization.patient'],
  ['cds-fb-1', feedback, 'feedback.2.outcome', 'ignored', '$.feedback[2].outcome'],
  ['cds-fb-2', feedback, 'feedback.0.acceptedSuggestions', undefined, '$.feedback[0].acceptedSuggestions'],
  [
    'cds-fb-3',
    feedback,
    'feedback.1.overrideReason',
    { extension: { a: 1 } },
    '$.feedback[1].overrideReason',
  ],
  ['ord-1', request, 'context.userId', 'u1', '$.context.userId'],
  ['ord-1', request, 'context.selections', ['ServiceRequest/s1', 's2'], '$.context.selections[1]'],
  // Rules of the narrative.
  ['G4', response, `${card}.detail`, '', '$.cards[0].detail'],
  ['G4', response, `${card}.detail`, null, '$.cards[0].detail'],
  ['G4', response, `${card}.links`, [], '$.cards[0].links'],
  ['G4', response, 'systemActions', [], '$.systemActions'],
  ['G4', response, `${card}.source.topic`, {}, '$.cards[0].source.topic'],
  ['G4', response, `${card}.overrideReasons.0`, {}, '$.cards[0].overrideReasons[0]'],
  ['G4', response, `${card}.extension`, { a: { b: [] } }, '$.cards[0].extension.a.b'],
  ['G4', response, `${card}.source`, { label: 'x', services: [] }, '$.cards[0].source.services'],
  ['G4', services, 'services.0.prefetch', {}, '$.services[0].prefetch'],
  ['G4', request, 'fhirServer', null, '$.fhirServer'],
  ['G4', request, 'prefetch.patient.name', null, '$.prefetch.patient.name'],
  ['G4', feedback, 'feedback', [], '$.feedback'],
  ['C2', response, 'cards', undefined, '$.cards'],
  ['C2', response, 'cards', {}, '$.cards'],
  ['C4', response, `${card}.summary`, 'x'.repeat(140), '$.cards[0].summary'],
  ['C6', response, `${card}.indicator`, undefined, '$.cards[0].indicator'],
  ['C6', response, `${card}.indicator`, 'hard-stop', '$.cards[0].indicator'],
  ['C6', response, `${card}.indicator`, 'error', '$.cards[0].indicator'],
  ['C7', response, `${card}.source.label`, undefined, '$.cards[0].source.label'],
  ['C7', response, `${card}.source.label`, '  ', '$.cards[0].source.label'],
  ['C7', response, `${card}.source.url`, '/about', '$.cards[0].source.url'],
  ['C7', response, `${card}.source.icon`, 'icon.png', '$.cards[0].source.icon'],
  [
    'C14',
    response,
    `${suggestion}.actions.0.resource`,
    undefined,
    '$.cards[0].suggestions[0].actions[0].resource',
  ],
  [
    'C14',
    response,
    `${suggestion}.actions.1.resource.id`,
    undefined,
    '$.cards[0].suggestions[0].actions[1].resource',
  ],
  ['C18', response, `${card}.links.0.type`, undefined, '$.cards[0].links[0].type'],
  ['C18', response, `${card}.links.0.url`, 'javascript:alert(1)', '$.cards[0].links[0].url'],
  ['C22', response, `${card}.source.topic.code`, undefined, '$.cards[0].source.topic.code'],
  ['C22', response, `${card}.overrideReasons.0.system`, undefined, '$.cards[0].overrideReasons[0].system'],
  [
    'C22',
    feedback,
    'feedback.1.overrideReason.reason.code',
    undefined,
    '$.feedback[1].overrideReason.reason.code',
  ],
  ['D2', services, 'services', undefined, '$.services'],
  ['D8', services, 'services.0.version', 'STU3', '$.services[0].version'],
  ['R2', request, 'hook', 'order-review', '$.hook'],
  ['R6', request, 'fhirAuthorization.token_type', 'bearer', '$.fhirAuthorization.token_type'],
  ['H1', request, 'context.selections', undefined, '$.context.selections'],
  ['H1', request, 'context.selections', [], '$.context.selections'],
  ['B2', feedback, 'feedback', undefined, '$.feedback'],
  ['B2', feedback, 'feedback', goodFeedback.feedback[0], '$.feedback'],
  [
    'B3',
    feedback,
    'feedback.0.outcomeTimestamp',
    '2024-05-01T10:00:00+02:00',
    '$.feedback[0].outcomeTimestamp',
  ],
  ['T2', response, `${card}.extension`, [{ url: 'x' }], '$.cards[0].extension'],
];

/** ord-1 of `userId` in the contexts of the other hooks. */
const brokenContexts: [string, object][] = [
  ['order-sign', { patientId: 'p1', draftOrders: bundle }],
  ['appointment-book', { patientId: 'p1', appointments: bundle }],
  ['patient-view', { patientId: 'p1' }],
];

const keyAndPath = ({ rule, path }: CheckIssue) => `${rule} ${path}`;

describe('a message that breaks one rule', () => {
  it.each(broken)('%s is reported: %s with another %s (%j)', (rule, model, member, value, path) => {
    expect(checks[model](changed(model, member, value)).map(keyAndPath)).toContain(`${rule} ${path}`);
  });

  it.each(brokenContexts)('ord-1 is the only rule broken by a bare userId in %s', (hook, context) => {
    const issues = checkRequest(requestFor(hook, { ...context, userId: 'u1' }));
    expect(issues.map(keyAndPath)).toEqual(['ord-1 $.context.userId']);
  });

  it.each(Object.entries(checks))('model:type is reported when a %s is not an object', (_, checkMessage) => {
    for (const value of [undefined, null, 'text', []]) {
      expect(checkMessage(value).map(keyAndPath)).toEqual(['model:type $']);
    }
  });

  it('has a case above for each rule and each member it points at', () => {
    const covered = new Set(broken.map(([rule, , , , path]) => `${rule} ${path.replace(/^.*\./, '')}`));
    const needed = rules
      .map(({ key, member }) => [key, member] as const)
      .filter(([, member]) => member !== undefined);
    expect(needed.filter(([key, member]) => !covered.has(`${key} ${member ?? ''}`))).toEqual([]);
    const keys = new Set(broken.map(([rule]) => rule));
    expect(rules.filter(({ key }) => !keys.has(key))).toEqual([]);
  });

  it('is told apart by severity: cds-r-2 and cds-resp-2 are published as warnings, cds-r-1 as an error', () => {
    const severity = (member: string) =>
      checkRequest(changed(request, member, undefined)).map((issue) => [issue.rule, issue.severity]);
    expect(severity('fhirAuthorization.patient')).toEqual([['cds-r-2', 'warning']]);
    expect(severity('fhirServer')).toEqual([['cds-r-1', 'error']]);
    const deletion = changed(response, `${suggestion}.actions.2.resourceId`, undefined);
    expect(checkResponse(deletion).map((issue) => [issue.rule, issue.severity])).toEqual([
      ['cds-resp-2', 'warning'],
    ]);
  });

  it('says what was expected and found (C4, C18)', () => {
    expect(checkResponse(changed(response, `${card}.links.0.type`, undefined))).toEqual([
      {
        rule: 'C18',
        severity: 'error',
        path: '$.cards[0].links[0].type',
        expected: 'absolute or smart; may not be left out',
        found: 'nothing',
      },
    ]);
  });
});

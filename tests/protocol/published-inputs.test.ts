import { describe, expect, it } from 'vitest';
import { readFileSync } from 'node:fs';
import { fhirIssues } from '../oracles/fhir-validity.js';
import { HOOK_INSTANCE, orderCall, pathsOf, post, problem, testApp } from '../server/test-service.js';
import type { Reply } from '../server/test-service.js';
import { pathOfHook } from '../server/record-calls.js';
import { cardFaults } from '../../src/render/card-check.js';
import { checkFeedback, checkRequest, checkResponse, checkServices } from './logical-model-check.js';
import { readPublished } from './published-models.js';
import { templateIssues } from './template-rules.js';
import { loggedCall } from './rows/call-log.js';

/** The published inputs as they are given, each against the rules of its kind and, where it is a call, at the service. */

type Content = Readonly<Record<string, unknown>>;

const lenient = testApp();
const strict = testApp({ strict: true });
const OFFERED = ['appointment-book', 'order-select', 'order-sign', 'patient-view'];

const read = (path: string): Content => JSON.parse(readPublished(path)) as Content;

async function send(content: Content, app = lenient): Promise<Reply> {
  const hook = String(content['hook']);
  return await post(app, OFFERED.includes(hook) ? pathOfHook(hook) : pathOfHook('patient-view'), content);
}

/** Success, or the 412 of a chart whose published prefetch brings nothing of a hip: both took the request for what it is. */
async function expectTaken(content: Content, app = lenient): Promise<void> {
  const reply = await send(content, app);
  expect([200, 412], reply.text).toContain(reply.status);
  if (reply.status === 412) problem(reply, 412);
  else expect(checkResponse(JSON.parse(reply.text))).toEqual([]);
}

describe('the published conformance inputs, at the service', () => {
  const input = (name: string): Content => read(`conformance/input/cdshooks-${name}.json`);

  it.each([
    'request-pv-good',
    'request-patient-view-good',
    'request-order-sign-good',
    'request-order-select-good',
  ])('%s is taken, strict or not', async (name) => {
    await expectTaken(input(name));
    await expectTaken(input(name), strict);
  });

  it.each<[string, readonly string[], readonly string[]]>([
    ['request-order-sign-bad-1', ['context.patientId'], ['patientId sent as a reference']],
    ['request-order-sign-bad-2', ['context.patientId'], ['patientId sent as a reference']],
    [
      'request-order-select-bad',
      ['context.patientId', 'context.encounterId', 'context.selections.0'],
      ['patientId sent as a reference', 'encounterId not a FHIR id', 'selection without its type'],
    ],
    [
      'request-patient-view-bad',
      ['context.patientId', 'context.encounterId'],
      ['patientId sent as a reference', 'encounterId not a FHIR id'],
    ],
  ])(
    '%s is refused where strict with the paths of its faults, and let pass and counted where not',
    async (name, paths, counted) => {
      expect(pathsOf(problem(await send(input(name), strict), 400))).toEqual(paths);
      await expectTaken(input(name));
      const hook = String(input(name)['hook']);
      const { leniencies } = await loggedCall(pathOfHook(hook), input(name));
      expect(leniencies).toEqual(expect.arrayContaining([...counted]));
    },
  );

  it('request-order-select-extensions is refused for the draft orders it lacks, not for its extension', async () => {
    expect(pathsOf(problem(await send(input('request-order-select-extensions')), 400))).toEqual([
      'context.draftOrders',
    ]);
  });

  it.each([
    ['response-good', true],
    ['response-empty', true],
    ['response-empty-good', true],
    ['response-link', true],
    ['response-no-link', true],
    ['response-two-cards', true],
    ['response-empty2', false],
    ['response-empty-bad', false],
    ['response-empty-source', false],
    ['response-source-link', false],
    ['response-suggestion', false],
  ])('%s would leave the check of cards: %s', (name, isGood) => {
    const { cards } = input(name) as { readonly cards?: readonly object[] };
    // Ours: a uuid on every card, and no member that is empty; the published ones have neither rule.
    const faults = (cards ?? [{}]).flatMap((card) =>
      cardFaults({ uuid: HOOK_INSTANCE, ...card }).filter((fault) => !fault.startsWith('detail')),
    );
    expect(faults.length === 0, faults.join('; ')).toBe(isGood);
  });

  it.each(['services-good', 'services-order-select-extensions'])(
    '%s is read by the models of the listing',
    (name) => {
      expect(checkServices(input(name))).toEqual([]);
    },
  );
});

interface Skip {
  readonly file: string;
  readonly reason: string;
  readonly date: string;
}

const index = JSON.parse(readPublished('examples/index.json')) as readonly { readonly file: string }[];
const skips = JSON.parse(
  readFileSync(new URL('published-skips.json', import.meta.url), 'utf8'),
) as readonly Skip[];
const skipped = new Set(skips.map(({ file }) => file));

/** A card that only lacks what an example shows. */
const CARD = { uuid: HOOK_INSTANCE, summary: 'x', indicator: 'info', source: { label: 'x' } };

/** What the rules of its kind find wrong with an example. */
function exampleIssues(file: string): readonly unknown[] {
  const content = read(`examples/${file}`);
  if ('services' in content) return checkServices(content);
  if ('feedback' in content) return checkFeedback(content);
  if ('cards' in content) return checkResponse(content).filter(({ path }) => !path.includes('...'));
  if (content['resourceType'] === 'OperationOutcome') return fhirIssues(content);
  if ('source' in content || 'overrideReasons' in content)
    return checkResponse({ cards: [{ ...CARD, ...content }] });
  if ('type' in content)
    return checkResponse({ cards: [], systemActions: [content] }).filter(({ path }) => !path.includes('...'));
  if ('hook' in content) return checkRequest(content);
  const { prefetch = {} } = content as { readonly prefetch?: Readonly<Record<string, unknown>> };
  const templates = Object.values(prefetch).filter((one) => typeof one === 'string');
  return templates.flatMap((one) => templateIssues(one, 'order-sign'));
}

describe('the published examples', () => {
  it('are 45', () => {
    expect(index).toHaveLength(45);
  });

  it.each(index.filter(({ file }) => !skipped.has(file)))('$file breaks no rule of its kind', ({ file }) => {
    expect(exampleIssues(file)).toEqual([]);
  });

  it.each(skips)('$file is left out and still has to be: $reason', ({ file, date }) => {
    expect(date).toMatch(/^\d{4}-\d\d-\d\d$/);
    expect(exampleIssues(file)).not.toEqual([]);
  });
});

describe('the published contexts and parts of calls, at the service', () => {
  const context = (file: string): Content => read(`examples/${file}`)['context'] as Content;
  const call = (hook: string, given: Content): Content => ({
    hook,
    hookInstance: HOOK_INSTANCE,
    context: given,
  });

  it.each([
    ['hook-order-select-01-example-r4.json', 'order-select'],
    ['hook-order-sign-01-example-r4.json', 'order-sign'],
    ['hook-patient-view-01-examples.json', 'patient-view'],
    ['hook-patient-view-02-examples.json', 'patient-view'],
    ['spec-3.0-ballot-11-example-prefetch-template-with-simpler-fhirpath.json', 'order-sign'],
    ['spec-3.0-ballot-34-what-s-the-difference.json', 'patient-view'],
  ])('%s is taken as the context of %s, strict or not', async (file, hook) => {
    await expectTaken(call(hook, context(file)));
    await expectTaken(call(hook, context(file)), strict);
  });

  it.each([
    ['hook-appointment-book-01-examples-stu3.json', 'reason'],
    ['hook-appointment-book-02-examples-stu3.json', 'indication'],
  ])(
    '%s is taken as appointment-book, and refused where strict for its %s, which only STU3 has',
    async (file, element) => {
      const given = call('appointment-book', context(file));
      await expectTaken(given);
      expect(pathsOf(problem(await send(given, strict), 400))).toEqual([
        `context.appointments.entry.0.resource.${element}`,
      ]);
    },
  );

  it.each([
    ['hook-order-dispatch-01-example-r4.json', 'order-dispatch'],
    ['hook-encounter-start-01-examples.json', 'encounter-start'],
    ['hook-encounter-discharge-01-examples.json', 'encounter-discharge'],
    ['hook-problem-list-item-create-01-example-r4.json', 'problem-list-item-create'],
  ])('%s is refused as the context of %s, a hook that is not offered', async (file, hook) => {
    expect(pathsOf(problem(await send(call(hook, context(file))), 400))).toEqual(['hook']);
  });

  it.each([
    ['spec-3.0-ballot-12-example-prefetch-token.json', ['context.userId']],
    ['spec-3.0-ballot-32-extensions.json', ['context.patientId']],
    ['spec-3.0-ballot-36-examples.json', ['context.userId', 'context.patientId']],
  ])('%s is refused for what its context lacks of patient-view', async (file, paths) => {
    expect(pathsOf(problem(await send(call('patient-view', context(file))), 400))).toEqual(paths);
  });

  it.each(['spec-3.0-ballot-03-example.json', 'spec-3.0-ballot-05-example-of-pagination-in-prefetch.json'])(
    '%s is taken as a call, strict or not',
    async (file) => {
      await expectTaken(read(`examples/${file}`));
      await expectTaken(read(`examples/${file}`), strict);
    },
  );

  it('spec-3.0-ballot-14 is prefetch of which only the patient was asked for: one without an id is not this patient', async () => {
    const { prefetch } = read('examples/spec-3.0-ballot-14-example-prefetch-data.json');
    expect(pathsOf(problem(await send({ ...orderCall(), prefetch }), 400))).toEqual(['prefetch.patient']);
  });

  it('spec-3.0-ballot-15 lets a server be asked, once the call names one', async () => {
    const access = read('examples/spec-3.0-ballot-15-passing-the-access-token-to-the-cds-service.json');
    expect(pathsOf(problem(await send({ ...orderCall(), ...access }), 400))).toEqual(['fhirServer']);
    await expectTaken({ ...orderCall(), ...access, fhirServer: 'https://record.example/fhir' });
  });

  it('spec-3.0-ballot-29 to 31 are a token whose header, claims and public key have all members a token needs', () => {
    const header = read('examples/spec-3.0-ballot-29-json-web-token-header.json');
    const claims = read('examples/spec-3.0-ballot-30-json-web-token-payload.json');
    const { keys } = read('examples/spec-3.0-ballot-31-json-web-key-set-public-key.json') as {
      readonly keys: readonly Content[];
    };
    // Rows S3 and S6. The service's own judgment of tokens is tested with its authentication.
    expect(Object.keys(header)).toEqual(expect.arrayContaining(['alg', 'kid', 'typ']));
    expect(Object.keys(claims)).toEqual(expect.arrayContaining(['iss', 'aud', 'exp', 'iat', 'jti']));
    for (const key of keys) expect(key).not.toHaveProperty('d');
  });
});

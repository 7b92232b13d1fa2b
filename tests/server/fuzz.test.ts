import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { advise } from '../../src/advice/index.js';
import type { Advice, AdviceInput } from '../../src/advice/index.js';
import { asObject } from '../../src/fhir/json.js';
import { advisor, inputFor, rulebook, testPatients } from '../advice/patients.js';
import { checkResponse } from '../protocol/logical-model-check.js';
import { mutate, mutation } from './mutation.js';
import type { Mutation } from './mutation.js';
import { HOOKS } from './test-service.js';

const RUNS = Number(process.env['KOTYLE_FUZZ_RUNS'] ?? 300);
const SEED = Number(process.env['KOTYLE_FUZZ_SEED'] ?? 20_261_124);

const inputs: ReadonlyMap<string, AdviceInput> = new Map(
  testPatients().flatMap(({ name, bundle, expected }) =>
    HOOKS.flatMap((hook) => {
      const input = expected.cards[hook] ? inputFor(bundle, hook) : undefined;
      return input ? [[`${name} at ${hook}`, input] as const] : [];
    }),
  ),
);

const damaged = fc.record({
  patient: fc.constantFrom(...inputs.keys()),
  mutations: fc.array(mutation, { minLength: 1, maxLength: 8 }),
});

/** The resources damaged; who is asked about, and by whom, stays as it was, and so does what the request reader ensures. */
function damage(patient: string, mutations: readonly Mutation[]): AdviceInput {
  const input = inputs.get(patient);
  if (!input) throw new Error(`no test patient ${patient}`);
  const { draftOrders, appointments } = input.context;
  const bundles = {
    ...(draftOrders !== undefined && { draftOrders }),
    ...(appointments !== undefined && { appointments }),
  };
  const { context, prefetch } = mutate({ context: bundles, prefetch: input.prefetch }, mutations);
  return {
    ...input,
    context: { ...input.context, draftOrders: undefined, appointments: undefined, ...asObject(context) },
    prefetch: asObject(prefetch) ?? {},
  };
}

type Answer = Extract<Advice, { kind: 'answer' }>;

function checkOutcomes(answer: Answer): void {
  const wanted = rulebook.rules.map(({ id }) => id).sort();
  const places = answer.hips.map(({ hip, construct }) => `${hip} ${construct}`);
  expect(new Set(places).size).toBe(places.length);
  for (const hip of answer.hips) {
    expect(hip.advisories.map(({ rule }) => rule).sort()).toEqual(wanted);
    for (const { outcome } of hip.advisories) {
      expect(['fires', 'does-not-fire', 'cannot-tell', 'not-applicable']).toContain(outcome);
    }
  }
  expect(answer.faults).toEqual([]);
}

const LABELS = /\*\*(Found|Options|To check|Before surgery|Have ready|Sure\?|Not known)\*\*/g;
const DEFERRAL = `*${rulebook.about.deferral}*`;
/** UCUM writes customary units in square brackets, as in `[in_i]`: no link unless a parenthesis follows. */
const BRACKETED_UNIT = /\[[A-Za-z_]+\](?!\()/g;
const LONE_SURROGATE = /[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/;

/** What a client would bring to life; none of it is in our own words, as the undamaged patients show. */
function livingText({ summary, detail }: Answer['cards'][number]): readonly string[] {
  const told = `${summary}\n\n${detail.replaceAll(LABELS, '').replace(DEFERRAL, '')}`;
  const own = told.replaceAll(BRACKETED_UNIT, '');
  const forbidden: readonly RegExp[] = [
    /[<>`|~[\]*_\\&]/,
    /:\/\/|www\./i,
    /^\s*(#|\d+\.\s)/m,
    // eslint-disable-next-line no-control-regex -- control characters are what is looked for
    /[\u0000-\u0009\u000b-\u001f\u007f\u200b-\u200f\u202a-\u202e\u2066-\u2069]/,
    LONE_SURROGATE,
  ];
  return forbidden.flatMap((pattern) => pattern.exec(own)?.[0] ?? []);
}

function checkCards(answer: Answer): void {
  for (const card of answer.cards) {
    expect(card.summary.length).toBeLessThanOrEqual(110);
    expect(card.summary).not.toContain('\n');
    expect(livingText(card), card.summary + card.detail).toEqual([]);
  }
}

/** Runs a check over damaged calls, and tells how many of them said something. */
async function run(
  check: (answer: Answer, again: () => Promise<Advice>) => void | Promise<void>,
): Promise<Readonly<Record<'answered' | 'spoke' | 'refused', number>>> {
  const seen = { answered: 0, spoke: 0, refused: 0 };
  await fc.assert(
    fc.asyncProperty(damaged, async ({ patient, mutations }) => {
      const input = damage(patient, mutations);
      const advice = await advise(input, advisor);
      if (advice.kind !== 'answer') {
        seen.refused += 1;
        expect(advice.issues.length).toBeGreaterThan(0);
        return;
      }
      if (advice.hips.length > 0) seen.answered += 1;
      if (advice.cards.length > 0) seen.spoke += 1;
      await check(advice, () => advise(input, advisor));
    }),
    { numRuns: RUNS, seed: SEED },
  );
  return seen;
}

const TIMEOUT_MS = 60_000 + RUNS * 50;

describe('damaged calls', () => {
  it(
    'never make it throw, and give every rule exactly one outcome for every hip and construct',
    async () => {
      // Style, errors and explanation: malformed resources become issues, findings or "cannot tell".
      await run(checkOutcomes);
    },
    TIMEOUT_MS,
  );

  it(
    'get cards that fit the published logical model, each with an id of its own',
    async () => {
      // C1 to C22, G4; C3.
      await run(({ cards }) => {
        expect(checkResponse(JSON.parse(JSON.stringify({ cards })))).toEqual([]);
        expect(new Set(cards.map(({ uuid }) => uuid)).size).toBe(cards.length);
      });
    },
    TIMEOUT_MS,
  );

  it(
    'get cards that are short enough and free of markup from the record',
    async () => {
      // Clinical decisions section 3 (110 characters); C5 (no raw HTML, data-derived text escaped).
      await run(checkCards);
    },
    TIMEOUT_MS,
  );

  it(
    'get the same bytes when asked twice',
    async () => {
      // R11.
      await run(async (answer, again) => {
        const second = await again();
        const cards = second.kind === 'answer' ? second.cards : [];
        expect(JSON.stringify(cards)).toBe(JSON.stringify(answer.cards));
      });
    },
    TIMEOUT_MS,
  );

  it(
    'did reach the rules: most were about a hip, many with cards, some refused',
    async () => {
      const seen = await run(() => undefined);
      expect(seen.answered / RUNS).toBeGreaterThan(0.5);
      expect(seen.spoke / RUNS).toBeGreaterThan(0.3);
      expect(seen.refused).toBeGreaterThan(0);
    },
    TIMEOUT_MS,
  );
});

describe('the check for markup', () => {
  it('finds nothing in the cards of the undamaged patients, and something in each kind of markup', async () => {
    for (const input of inputs.values()) {
      const advice = await advise(input, advisor);
      if (advice.kind !== 'answer') throw new Error('a test patient was refused');
      for (const card of advice.cards) expect(livingText(card), card.summary).toEqual([]);
      const [card] = advice.cards;
      if (!card) continue;
      for (const markup of [
        '<b>',
        '**x**',
        '[x](y)',
        'https://x',
        'www.x',
        '`x`',
        '\n# x',
        '\u202e',
        '\ud800',
      ]) {
        expect(livingText({ ...card, detail: card.detail + markup }), markup).not.toEqual([]);
      }
    }
  });
});

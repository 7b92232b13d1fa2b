import type { AddressInfo } from 'node:net';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { advise, SERVICES } from '../../src/advice/index.js';
import type { Advice } from '../../src/advice/index.js';
import { advisor, rulebook } from '../advice/patients.js';
import { northCampus } from '../facts/sites.js';
import { checkResponse } from '../protocol/logical-model-check.js';
import { client, NOW_S } from './auth/signing.js';
import { damage, damaged, inputs } from './damaged-calls.js';
import { FEEDBACK, hostileRequest } from './hostile-requests.js';
import { mutate, mutation } from './mutation.js';
import { newSender, wrongAnswer } from './send-hostile.js';
import type { Sender } from './send-hostile.js';
import { post, testApp } from './test-service.js';

const RUNS = Number(process.env['KOTYLE_FUZZ_RUNS'] ?? 100);
const SEED = Number(process.env['KOTYLE_FUZZ_SEED'] ?? 20_261_124);

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
    fc.asyncProperty(damaged, async (given) => {
      const input = damage(given);
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
      // The right hip is known by its local order only; the left one also by the implants ordered for it.
      for (const atSite of [true, false]) {
        const patient = 'every carrier in local codes 1 at order-sign';
        const advice = await advise(damage({ patient, mutations: [], atSite }), advisor);
        expect(advice.kind === 'answer' && advice.hips.some(({ hip }) => hip === 'right')).toBe(atSite);
      }
    },
    TIMEOUT_MS,
  );
});

const APPS = [
  testApp(),
  testApp({ strict: true, audit: 'required' }),
  testApp({ installation: northCampus, distinctIds: true }),
];

/** Insists that a damaged body is answered, or refused by whose fault it is. */
async function expectNoCrash(
  app: (typeof APPS)[number],
  path: string,
  body: unknown,
  accepted: readonly number[],
): Promise<number> {
  const { status, text } = await post(app, path, body);
  expect(accepted, text).toContain(status);
  if (status === 200) expect(JSON.parse(text)).toBeTypeOf('object');
  else expect(JSON.parse(text)).toMatchObject({ resourceType: 'OperationOutcome' });
  return status;
}

describe('damaged bodies', () => {
  it(
    'of calls at every hook are answered validly or refused, and the service goes on',
    async () => {
      const seen = new Map<number, number>();
      await fc.assert(
        fc.asyncProperty(damaged, fc.constantFrom(...APPS), async ({ patient, mutations }, app) => {
          const input = inputs.get(patient);
          if (!input) throw new Error(`no test patient ${patient}`);
          const { hookInstance, context, prefetch, service } = input;
          const whole = { hook: service.hook, hookInstance, context, prefetch };
          const path = `/cds-services/${service.id}`;
          // E9: malformed is 400, another patient 400, undecidable 412; never a fault of the service.
          const status = await expectNoCrash(app, path, mutate(whole, mutations), [200, 400, 404, 412]);
          seen.set(status, (seen.get(status) ?? 0) + 1);
        }),
        { numRuns: RUNS, seed: SEED },
      );
      expect(seen.get(200)).toBeGreaterThan(RUNS / 4);
      expect(seen.get(400)).toBeGreaterThan(0);
    },
    TIMEOUT_MS,
  );

  it(
    'of feedback are kept or refused whole, and the service goes on',
    async () => {
      const seen = new Map<number, number>();
      await fc.assert(
        fc.asyncProperty(
          fc.array(mutation, { minLength: 1, maxLength: 6 }),
          fc.constantFrom(...APPS),
          fc.constantFrom(...SERVICES),
          async (mutations, app, { id }) => {
            const path = `/cds-services/${id}/feedback`;
            const status = await expectNoCrash(app, path, mutate(FEEDBACK, mutations), [200, 400, 404]);
            seen.set(status, (seen.get(status) ?? 0) + 1);
          },
        ),
        { numRuns: RUNS, seed: SEED },
      );
      expect(seen.get(200)).toBeGreaterThan(0);
      expect(seen.get(400)).toBeGreaterThan(0);
    },
    TIMEOUT_MS,
  );
});

describe('hostile requests', () => {
  it(
    'of calls, feedback, evaluations, tokens and of no form at all are answered or refused, on real sockets',
    async () => {
      const publicUrl = 'https://hip.hospital.example';
      const clients = [client({ tenants: ['north'] })];
      const production = testApp({ mode: 'production', publicUrl, clients });
      const services = await Promise.all([...APPS, production].map(startApp));
      const seen = new Map<string, number>();
      try {
        await fc.assert(
          fc.asyncProperty(
            hostileRequest({ publicUrl, nowS: NOW_S }),
            fc.nat({ max: APPS.length - 1 }),
            async (request, at) => {
              const service = services[request.kind === 'token' ? APPS.length : at];
              if (!service) throw new Error('no service');
              const reply = await service.sender.send(request);
              expect(wrongAnswer(request, reply), JSON.stringify([request, reply])).toBeUndefined();
              const name = `${request.kind} ${reply.status}`;
              seen.set(name, (seen.get(name) ?? 0) + 1);
            },
          ),
          { numRuns: RUNS, seed: SEED },
        );
      } finally {
        for (const { stop } of services) stop();
      }
      // It did reach what it is for: calls and tokens were both taken and refused.
      for (const name of ['call 200', 'call 400', 'feedback 200', 'feedback 400', 'token 200', 'token 401'])
        expect(seen.get(name), name).toBeGreaterThan(0);
    },
    TIMEOUT_MS,
  );
});

interface Listening {
  readonly sender: Sender;
  readonly stop: () => void;
}

function startApp(app: (typeof APPS)[number]): Promise<Listening> {
  return new Promise((resolve) => {
    const server = app.listen(0, '127.0.0.1', () => {
      const sender = newSender((server.address() as AddressInfo).port);
      const stop = (): void => {
        sender.close();
        server.close();
        server.closeAllConnections();
      };
      resolve({ sender, stop });
    });
  });
}

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

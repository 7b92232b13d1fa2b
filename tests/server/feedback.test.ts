import Database from 'better-sqlite3';
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pino } from 'pino';
import request from 'supertest';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { openStore } from '../../src/store/open-store.js';
import { newPseudonyms } from '../../src/store/pseudonym.js';
import type { Store } from '../../src/store/store.js';
import { readPublished } from '../protocol/published-models.js';
import { checkFeedback } from '../protocol/logical-model-check.js';
import { decision, uuid } from '../store/records.js';
import { BOOKING_PATH, NOW, ORDER_PATH, pathsOf, post, problem, TEST_KEY, testApp } from './test-service.js';
import type { Reply } from './test-service.js';

const PATH = `${ORDER_PATH}/feedback`;
const SERVICE = 'hip-stability-order';
/** Stands for what only a clinician's comment would hold; never to be seen outside the sealed comment. */
const SECRET = 'Zephyrine Quux refused';

const OVERRIDDEN = { card: uuid(1), outcome: 'overridden', outcomeTimestamp: '2026-11-24T09:59:00Z' };
const ACCEPTED = {
  ...OVERRIDDEN,
  card: uuid(2),
  outcome: 'accepted',
  acceptedSuggestions: [{ id: uuid(21) }],
};
const REASON = { code: 'seen', system: 'https://kotyle.example/fhir/CodeSystem/override' };

let store: Store;
let lines: string[];
let app: ReturnType<typeof testApp>;
beforeEach(async () => {
  store = await openStore({ path: ':memory:', contentKey: TEST_KEY });
  lines = [];
  app = testApp({ store, log: pino({ level: 'trace' }, { write: (line: string) => lines.push(line) }) });
});
afterEach(() => store.close());

async function send(...feedback: readonly object[]): Promise<Reply> {
  return await post(app, PATH, { feedback });
}

async function sendStrictly(...feedback: readonly object[]): Promise<Reply> {
  return await post(testApp({ store, strict: true }), PATH, { feedback });
}

/** Insists on the one answer that means: kept. */
function expectKept(reply: Reply): void {
  expect(reply.status, reply.text).toBe(200);
  expect(reply.headers['content-type']).toMatch(/^application\/json/);
  expect(reply.text).toBe('{}');
}

function logged(): Readonly<Record<string, unknown>> {
  expect(lines).toHaveLength(1);
  return JSON.parse(lines[0] ?? '') as Readonly<Record<string, unknown>>;
}

describe('feedback', () => {
  it('is taken as the specification writes it, in all its examples', async () => {
    const examples = readdirSync(new URL('../published/cds-hooks/examples', import.meta.url));
    const names = examples.filter((name) => readPublished(`examples/${name}`).includes('"outcomeTimestamp"'));
    expect(names).toHaveLength(3);
    for (const name of names) {
      const body: unknown = JSON.parse(readPublished(`examples/${name}`));
      expect(checkFeedback(body)).toEqual([]);
      // Truth: published, CDS Hooks 3.0 ballot, section Feedback. Rows B1, B7: unknown cards are kept.
      expectKept(await post(app, PATH, body));
      expectKept(await post(testApp({ store, strict: true }), PATH, body));
    }
    expect(await store.answersTo('9368d37b-283f-44a0-93ea-547cebab93ed')).toEqual([
      {
        card: '9368d37b-283f-44a0-93ea-547cebab93ed',
        outcome: 'overridden',
        at: '2020-12-11T00:00:00.000Z',
        acceptedSuggestions: [],
        reason: { system: 'https://example.com/cds-hooks/override-reason-system', code: 'd7ecf885' },
        comment: 'A comment entered by the clinician.',
        iss: '-',
        service: SERVICE,
        receivedAt: NOW,
      },
    ]);
    expect(await store.answersTo('4e0a3a1e-3283-4575-ab82-028d55fe2719')).toMatchObject([
      { outcome: 'accepted', acceptedSuggestions: ['e56e1945-20b3-4393-8503-a1a20fd73152'] },
    ]);
    expect(await store.answersTo('f6b95768-b1c8-40dc-8385-bf3504b82ffb')).toHaveLength(1);
  });

  it('may hold several items and repeats for one card, and is kept once however often it is sent', async () => {
    const later = { ...ACCEPTED, card: uuid(1), outcomeTimestamp: '2026-11-24T09:59:30Z' };
    // Row B2: three items for two cards, twice.
    for (let time = 0; time < 2; time += 1) expectKept(await send(OVERRIDDEN, ACCEPTED, later));
    expect((await store.answersTo(uuid(1))).map(({ outcome }) => outcome)).toEqual([
      'overridden',
      'accepted',
    ]);
    expect(await store.answersTo(uuid(2))).toHaveLength(1);
  });

  it('may be for any service of the discovery document, and is kept with its service', async () => {
    expectKept(await post(app, `${BOOKING_PATH}/feedback`, { feedback: [OVERRIDDEN] }));
    // Row B1.
    expect(await store.answersTo(uuid(1))).toMatchObject([{ service: 'hip-stability-booking' }]);
  });

  it('may be an empty list', async () => {
    // Truth: published, CDSHooksFeedback: feedback 0..*, json-empty-behavior present.
    expectKept(await send());
  });

  it('may have members nobody here knows, as extensions do', async () => {
    const extension = { 'com.example.workstation': 'OR 3' };
    expectKept(await post(app, PATH, { feedback: [{ ...OVERRIDDEN, extension }], extension }));
  });

  it('gives a reason, a comment, both or neither', async () => {
    const reasons = [
      undefined,
      { reason: REASON },
      { userComment: SECRET },
      { reason: { ...REASON, display: 'Seen' }, userComment: SECRET },
    ];
    const items = reasons.map((overrideReason, index) => ({
      ...OVERRIDDEN,
      outcomeTimestamp: `2026-11-24T09:59:0${index}Z`,
      overrideReason,
    }));
    // Row B5.
    expectKept(await sendStrictly(...items));
    expect((await store.answersTo(uuid(1))).map(({ reason, comment }) => ({ reason, comment }))).toEqual([
      {},
      { reason: REASON },
      { comment: SECRET },
      { reason: REASON, comment: SECRET },
    ]);
  });

  it('may name ids in capitals, which are the same ids', async () => {
    const id = uuid(21);
    const capitals = { card: uuid(2).toUpperCase(), acceptedSuggestions: [{ id: id.toUpperCase() }] };
    expectKept(await send({ ...ACCEPTED, ...capitals }));
    // RFC 9562 section 4: hexadecimal digits without case.
    expect(await store.answersTo(uuid(2))).toMatchObject([{ acceptedSuggestions: [id] }]);
  });

  it('makes a card stay quiet for its patient', async () => {
    await store.saveDecision(decision(1));
    expectKept(await send(OVERRIDDEN));
    // Clinical decisions section 1.
    expect(await store.acknowledgedBy('patient-pseudonym')).toEqual(['sha256-facts-1']);
    // Row B6: what nobody answered stands apart.
    expect(await store.countsByRule()).toMatchObject([{ shown: 1, answered: 1, silent: 0, overridden: 1 }]);
  });
});

describe('the time of an answer', () => {
  // Row B3; RFC 3339 section 5.6.
  const inUtc: Readonly<Record<string, string>> = {
    '2026-11-24T09:59:00Z': '2026-11-24T09:59:00.000Z',
    '2026-11-24T09:59:00.5Z': '2026-11-24T09:59:00.500Z',
    '2026-11-24T09:59:00.123456789Z': '2026-11-24T09:59:00.123Z',
    '2026-11-24t09:59:00z': '2026-11-24T09:59:00.000Z',
    '2026-11-24T09:59:00+00:00': '2026-11-24T09:59:00.000Z',
    '2026-11-24T09:59:00-00:00': '2026-11-24T09:59:00.000Z',
    '1985-04-12T23:20:50.52Z': '1985-04-12T23:20:50.520Z',
    // RFC 3339 section 5.8: a leap second.
    '1990-12-31T23:59:60Z': '1991-01-01T00:00:00.000Z',
  };
  for (const [outcomeTimestamp, at] of Object.entries(inUtc)) {
    it(`is taken in UTC: ${outcomeTimestamp}`, async () => {
      expectKept(await sendStrictly({ ...OVERRIDDEN, outcomeTimestamp }));
      expect(await store.answersTo(uuid(1))).toMatchObject([{ at }]);
    });
  }

  const elsewhere: Readonly<Record<string, string>> = {
    '1996-12-19T16:39:57-08:00': '1996-12-20T00:39:57.000Z',
    '1937-01-01T12:00:27.87+00:20': '1937-01-01T11:40:27.870Z',
    '2026-11-24T23:59:00+14:00': '2026-11-24T09:59:00.000Z',
  };
  for (const [outcomeTimestamp, at] of Object.entries(elsewhere)) {
    it(`is taken with another offset, and counted, unless strict: ${outcomeTimestamp}`, async () => {
      expectKept(await send({ ...OVERRIDDEN, outcomeTimestamp }, OVERRIDDEN));
      expect((await store.answersTo(uuid(1))).map((answer) => answer.at)).toContain(at);
      expect(logged()['leniencies']).toEqual({ 'outcomeTimestamp not in UTC': 1 });
      const refused = problem(await sendStrictly({ ...OVERRIDDEN, outcomeTimestamp }), 400, [
        outcomeTimestamp,
      ]);
      expect(pathsOf(refused)).toEqual(['feedback.0.outcomeTimestamp']);
    });
  }

  const never = [
    '2026-11-24T09:59:00',
    '2026-11-24T09:59Z',
    '2026-11-24',
    '2026-11',
    '2026-11-24 09:59:00Z',
    '2026-02-29T09:59:00Z',
    '2026-11-24T24:00:00Z',
    '2026-11-24T09:60:00Z',
    '2026-11-24T09:59:00+99:00',
    '2026-11-24T09:59:00+0100',
    '20261124T095900Z',
    'yesterday',
    '',
    '2026-11-24T09:59:00Z ',
  ];
  for (const outcomeTimestamp of never) {
    it(`is refused when it is no time with a zone: ${JSON.stringify(outcomeTimestamp)}`, async () => {
      const reply = await send({ ...OVERRIDDEN, outcomeTimestamp });
      expect(pathsOf(problem(reply, 400))).toEqual(['feedback.0.outcomeTimestamp']);
    });
  }
});

describe('feedback that is not as the standard asks', () => {
  interface Case {
    readonly items: readonly unknown[];
    readonly path: string;
    /** Issue code of FHIR's value set. */
    readonly code: string;
  }
  const item = (change: object): readonly unknown[] => [OVERRIDDEN, { ...OVERRIDDEN, ...change }];
  const accepted = (acceptedSuggestions: unknown): readonly unknown[] =>
    item({ outcome: 'accepted', acceptedSuggestions });
  const at = 'feedback.1';
  const cases: Readonly<Record<string, Case>> = {
    'an item that is no object': { items: [OVERRIDDEN, SECRET], path: at, code: 'structure' },
    'an item that is null': { items: [OVERRIDDEN, null], path: at, code: 'structure' },
    // Row B3.
    'no card': { items: item({ card: undefined }), path: `${at}.card`, code: 'required' },
    'a card that is no UUID': { items: item({ card: SECRET }), path: `${at}.card`, code: 'value' },
    'a card that is a number': { items: item({ card: 7 }), path: `${at}.card`, code: 'structure' },
    'no outcome': { items: item({ outcome: undefined }), path: `${at}.outcome`, code: 'required' },
    // cds-fb-1.
    'another outcome': { items: item({ outcome: SECRET }), path: `${at}.outcome`, code: 'value' },
    'an outcome in capitals': { items: item({ outcome: 'Accepted' }), path: `${at}.outcome`, code: 'value' },
    'no time': {
      items: item({ outcomeTimestamp: undefined }),
      path: `${at}.outcomeTimestamp`,
      code: 'required',
    },
    'a time that is a number': {
      items: item({ outcomeTimestamp: 1_764_000_000 }),
      path: `${at}.outcomeTimestamp`,
      code: 'structure',
    },
    // Row B4, cds-fb-2.
    'accepted without suggestions': {
      items: accepted(undefined),
      path: `${at}.acceptedSuggestions`,
      code: 'required',
    },
    'accepted with an empty list': {
      items: accepted([]),
      path: `${at}.acceptedSuggestions`,
      code: 'required',
    },
    'a suggestion without id': {
      items: accepted([{}]),
      path: `${at}.acceptedSuggestions.0.id`,
      code: 'required',
    },
    'a suggestion that is a text': {
      items: accepted([uuid(21)]),
      path: `${at}.acceptedSuggestions.0`,
      code: 'structure',
    },
    'suggestions that are no list': {
      items: accepted({ id: uuid(21) }),
      path: `${at}.acceptedSuggestions`,
      code: 'structure',
    },
    // Row B5, cds-fb-3.
    'an empty override reason': {
      items: item({ overrideReason: {} }),
      path: `${at}.overrideReason`,
      code: 'required',
    },
    'an override reason that is a text': {
      items: item({ overrideReason: SECRET }),
      path: `${at}.overrideReason`,
      code: 'structure',
    },
    // Row C22.
    'a reason without code': {
      items: item({ overrideReason: { reason: { system: REASON.system } } }),
      path: `${at}.overrideReason.reason.code`,
      code: 'required',
    },
    'a reason whose code is more than a code': {
      items: item({ overrideReason: { reason: { ...REASON, code: ` ${SECRET}\n` } } }),
      path: `${at}.overrideReason.reason.code`,
      code: 'value',
    },
    'a comment that is no text': {
      items: item({ overrideReason: { userComment: { text: SECRET } } }),
      path: `${at}.overrideReason.userComment`,
      code: 'structure',
    },
  };
  for (const [what, { items, path, code }] of Object.entries(cases)) {
    it(`is refused as a whole, saying where and nothing of what it held: ${what}`, async () => {
      const reply = await post(app, PATH, { feedback: items });
      // Rows B7, E9, R10.
      const issues = problem(reply, 400, [SECRET, uuid(1), uuid(21)]);
      expect(issues.map((each) => [each.code, ...(each.expression ?? [])])).toEqual([[code, path]]);
      expect(await store.answersTo(uuid(1))).toEqual([]);
      expect(logged()).toMatchObject({ service: SERVICE, status: 400 });
      expect(lines.join('')).not.toContain(SECRET);
    });
  }

  const bodies: Readonly<Record<string, unknown>> = {
    'no object': [OVERRIDDEN],
    'no feedback': {},
    'feedback that is no list': { feedback: OVERRIDDEN },
    null: 'null',
    'cut off': '{"feedback": [',
  };
  for (const [what, body] of Object.entries(bodies)) {
    it(`is refused when its body is ${what}`, async () => {
      problem(await post(app, PATH, body), 400);
    });
  }

  it('is let pass and counted where the meaning is clear, unless strict', async () => {
    const items = [
      { ...OVERRIDDEN, overrideReason: { reason: { code: 'seen' } } },
      { ...OVERRIDDEN, overrideReason: { userComment: ' ' } },
      { ...OVERRIDDEN, overrideReason: { reason: REASON, userComment: '' } },
    ];
    expectKept(await send(...items));
    expect((await store.answersTo(uuid(1))).map(({ reason }) => reason)).toEqual(
      expect.arrayContaining([{ code: 'seen' }, undefined, REASON]),
    );
    expect((await store.answersTo(uuid(1))).flatMap(({ comment }) => comment ?? [])).toEqual([]);
    // Integration decisions section 3: lenient by default, each leniency counted.
    expect(logged()).toMatchObject({
      leniencies: { 'override reason without system': 1, 'empty comment': 2 },
      comments: 0,
    });
    // Row C22; FHIR R4, string: a string has at least one character that is no white space.
    expect(pathsOf(problem(await sendStrictly(...items), 400))).toEqual([
      'feedback.0.overrideReason.reason.system',
      'feedback.1.overrideReason.userComment',
      'feedback.2.overrideReason.userComment',
    ]);
  });

  it('is refused in one breath when it was made to exhaust the reader', async () => {
    const many = { feedback: Array.from({ length: 1_000_000 }, () => ({})) };
    expect(problem(await post(app, PATH, many), 400)).toHaveLength(1);
    const suggestions = Array.from({ length: 1_000_000 }, () => ({}));
    expect(problem(await send({ ...ACCEPTED, acceptedSuggestions: suggestions }), 400)).toHaveLength(1);
    const deep = `{"feedback":${'['.repeat(200)}${']'.repeat(200)}}`;
    problem(await post(app, PATH, deep), 400);
  });

  it('may hold a thousand items, and no more', async () => {
    const items = Array.from({ length: 1001 }, (_, index) => ({ ...OVERRIDDEN, card: uuid(index) }));
    expectKept(await send(...items.slice(1)));
    expect(await store.answersTo(uuid(1000))).toHaveLength(1);
    expect(pathsOf(problem(await send(...items), 400))).toEqual(['feedback']);
  });
});

describe('the feedback endpoint', () => {
  it('does not know a service that is not in the discovery document', async () => {
    // Row E7.
    problem(await post(app, '/cds-services/another/feedback', { feedback: [OVERRIDDEN] }), 404);
    expect(await store.answersTo(uuid(1))).toEqual([]);
  });

  it('takes JSON by POST only', async () => {
    // Rows E7, G6.
    for (const method of ['get', 'put', 'delete', 'patch'] as const) {
      const reply = (await request(app)[method](PATH)) as Reply;
      problem(reply, 405);
      expect(reply.headers['allow']).toBe('POST');
    }
    const text = JSON.stringify({ feedback: [OVERRIDDEN] });
    problem(await post(app, PATH, text, { 'Content-Type': 'text/plain' }), 415);
    problem(await post(testApp({ store, bodyLimitBytes: 64 }), PATH, text), 413);
  });

  it('answers only after the commit', async () => {
    let commit: (() => void) | undefined;
    let answered = false;
    const slow: Store = {
      ...store,
      saveFeedback: () =>
        new Promise((resolve) => {
          commit = resolve;
        }),
    };
    const pending = post(testApp({ store: slow }), PATH, { feedback: [OVERRIDDEN] }).then((reply) => {
      answered = true;
      return reply;
    });
    while (!commit) await new Promise((resolve) => setTimeout(resolve, 5));
    await new Promise((resolve) => setTimeout(resolve, 50));
    expect(answered).toBe(false);
    commit();
    expectKept(await pending);
  });

  it('always says when it could not keep feedback, and logs why without what', async () => {
    const broken: Store = {
      ...store,
      saveFeedback: () =>
        Promise.reject(Object.assign(new Error(`disk full near ${SECRET}`), { code: 'SQLITE_FULL' })),
    };
    const log = pino({ level: 'trace' }, { write: (line: string) => lines.push(line) });
    const reply = await post(testApp({ store: broken, log }), PATH, {
      feedback: [{ ...OVERRIDDEN, overrideReason: { userComment: SECRET } }],
    });
    // Integration decisions section 5; FHIR R4 issue-type: no-store, "the persistent store is unavailable".
    expect(problem(reply, 503, [SECRET])).toMatchObject([{ code: 'no-store' }]);
    expect(lines.join('')).toContain('"failure":"SQLITE_FULL"');
    expect(lines.join('')).toContain('"status":503');
    expect(lines.join('')).not.toContain(SECRET);
  });

  it('logs one line with counts', async () => {
    const overrideReason = { reason: REASON, userComment: SECRET };
    expectKept(await send(OVERRIDDEN, { ...OVERRIDDEN, overrideReason }, ACCEPTED));
    const { items, accepted, overridden, reasons, comments, service, status, leniencies, ms } = logged();
    expect({ items, accepted, overridden, reasons, comments, service, status, leniencies }).toEqual({
      items: 3,
      accepted: 1,
      overridden: 2,
      reasons: 1,
      comments: 1,
      service: SERVICE,
      status: 200,
      leniencies: {},
    });
    expect(ms).toBeTypeOf('number');
  });
});

describe('what must not be found', () => {
  it('no comment, patient id or user id stands in the log or in the files of the database', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'kotyle-feedback-'));
    const path = join(folder, 'kotyle.sqlite');
    const onDisk = await openStore({ path, contentKey: TEST_KEY });
    const log = pino({ level: 'trace' }, { write: (line: string) => lines.push(line) });

    const names = newPseudonyms(TEST_KEY);
    const patientId = 'patient-Zqxmarker';
    const userId = 'Practitioner/surgeon-Zqxmarker';
    const patient = names.patient({ iss: '-', id: patientId });
    try {
      await onDisk.saveDecision(decision(1, { patient, user: names.user({ iss: '-', id: userId }) }));
      const overrideReason = { reason: REASON, userComment: `Zqxmarker ${patientId}` };
      const app = testApp({ store: onDisk, log });
      expectKept(await post(app, PATH, { feedback: [{ ...OVERRIDDEN, overrideReason }] }));
      const readWhileOpen = readAll(folder);
      await onDisk.close();
      const found = `${lines.join('')}${readWhileOpen}${readAll(folder)}`;
      // Row B8; integration decisions section 5.
      expect(found).not.toContain('Zqxmarker');
      // The search does reach what was kept, as text and in the table.
      expect(found).toContain(patient);
      const database = new Database(path, { readonly: true });
      expect(database.prepare('select count(*) from feedback where comment is not null').pluck().get()).toBe(
        1,
      );
      database.close();
      const again = await openStore({ path, contentKey: TEST_KEY });
      expect(await again.answersTo(uuid(1))).toMatchObject([{ comment: `Zqxmarker ${patientId}` }]);
      await again.close();
    } finally {
      rmSync(folder, { recursive: true });
    }
  });
});

function readAll(folder: string): string {
  return readdirSync(folder)
    .map((name) => readFileSync(join(folder, name)).toString('latin1'))
    .join('');
}

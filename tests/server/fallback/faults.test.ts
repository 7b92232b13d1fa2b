import { afterEach, describe, expect, it } from 'vitest';
import {
  AMPLE_MS,
  open,
  PATIENT_ID,
  QUERIES,
  queriesOf,
  READS,
  readerFor,
  states,
  TOKEN,
  idsOf,
} from './records.js';
import {
  page,
  pathOf,
  rightAnswer,
  sendEndless,
  sendJson,
  sendStatus,
  sendText,
  startFaultyServer,
} from './faulty-server.js';
import type { FaultyServer, Misbehave } from './faulty-server.js';
import { listen } from '../../fhir-server/listening.js';
import type { Listening } from '../../fhir-server/listening.js';

const HOUR_MS = 60 * 60 * 1000;
/** Machines that run tests are busy: bounds are there to find what never ends. */
const SLACK_MS = 8000;

const running: Listening[] = [];

async function startStranger(): Promise<Listening> {
  const stranger = await listen(
    () => (_request, response) => sendJson(response, page([{ resourceType: 'Condition', id: 'theirs' }])),
  );
  running.push(stranger);
  return stranger;
}

async function start(fault: Parameters<typeof startFaultyServer>[0]): Promise<FaultyServer> {
  const server = await startFaultyServer(fault);
  running.push(server);
  return server;
}

afterEach(async () => {
  await Promise.all(running.splice(0).map((server) => server.stop()));
});

interface Fault {
  readonly what: string;
  /** Made for the address of another server and of the faulty one. */
  readonly misbehave: (stranger: string, base: string) => Misbehave;
  readonly search: string;
  /** The same as for a search when not stated; null where it can't happen to a single resource. */
  readonly read?: string | null;
  /** How often each is asked. */
  readonly asked?: number;
  readonly budgetMs?: number;
}

const status =
  (code: number, headers: Readonly<Record<string, string>> = {}) =>
  (): Misbehave =>
  (response) =>
    sendStatus(response, code, headers);
const unread = (why: string): string => `failed: could not be read (${why})`;
const NOT_OFFERED = 'absent: not offered here';

// Integration decisions section 2, the ladder and its last sentences; conformance P11, P15, F2, F3, F7, F8, F9.
const FAULTS: readonly Fault[] = [
  { what: '401', misbehave: status(401), search: unread('token refused') },
  { what: '403', misbehave: status(403), search: NOT_OFFERED },
  { what: '404', misbehave: status(404), search: NOT_OFFERED, read: unread('not there') },
  { what: '410', misbehave: status(410), search: unread('not there') },
  { what: '418', misbehave: status(418), search: unread('request refused') },
  { what: '429', misbehave: status(429), search: unread('server busy'), asked: 2 },
  {
    what: '429 for a minute',
    misbehave: status(429, { 'retry-after': '60' }),
    search: unread('server busy'),
  },
  { what: '500', misbehave: status(500), search: unread('server failed'), asked: 2 },
  { what: '501', misbehave: status(501), search: NOT_OFFERED },
  { what: '503', misbehave: status(503), search: unread('server failed'), asked: 2 },
  {
    what: 'no answer within the budget',
    misbehave: () => () => undefined,
    search: unread('no answer in time'),
    budgetMs: 2500,
  },
  {
    what: 'an answer that never ends within the budget',
    misbehave: () => (response) => {
      response.writeHead(200, { 'content-type': 'application/fhir+json' });
      response.write('{');
    },
    search: unread('no answer in time'),
    budgetMs: 2500,
  },
  {
    what: 'a connection reset',
    misbehave: () => (_response, request) => {
      request.socket.resetAndDestroy();
    },
    search: unread('the connection failed'),
    asked: 2,
  },
  {
    what: 'a body cut off with the connection',
    misbehave: () => (response, request) => {
      response.writeHead(200, { 'content-type': 'application/fhir+json', 'content-length': '1000' });
      response.write('{"resourceType":"Bundle","entry":[', () => request.socket.destroy());
    },
    search: unread('the connection failed'),
    asked: 2,
  },
  {
    what: 'JSON that stops in the middle',
    misbehave: () => (response) =>
      sendText(response, 'application/fhir+json', '{"resourceType":"Bundle","entry":['),
    search: unread('not FHIR JSON'),
  },
  {
    what: 'JSON that is no resource',
    misbehave: () => (response) => sendJson(response, { entry: [] }),
    search: unread('not FHIR JSON'),
  },
  {
    what: 'an empty body',
    misbehave: () => (response) => sendText(response, 'application/fhir+json', ''),
    search: unread('not FHIR JSON'),
  },
  {
    what: 'bytes that are not UTF-8',
    misbehave: () => (response) => {
      response.writeHead(200, { 'content-type': 'application/fhir+json' });
      response.end(Buffer.from('{"resourceType":"Bundle","id":"\u00e9"}', 'latin1'));
    },
    search: unread('not FHIR JSON'),
  },
  {
    what: 'HTML',
    misbehave: () => (response) => sendText(response, 'text/html', '<html>log in</html>'),
    search: unread('not FHIR JSON'),
  },
  {
    what: 'a resource under the type of XML',
    misbehave: () => (response, request) =>
      sendText(response, 'application/fhir+xml', JSON.stringify(rightAnswer(pathOf(request.url ?? '')))),
    search: unread('not FHIR JSON'),
  },
  {
    what: 'no content type',
    misbehave: () => (response, request) => {
      response.writeHead(200);
      response.end(JSON.stringify(rightAnswer(pathOf(request.url ?? ''))));
    },
    search: unread('not FHIR JSON'),
  },
  {
    what: 'JSON nested without end',
    misbehave: () => (response) =>
      sendText(
        response,
        'application/fhir+json',
        `{"resourceType":"Bundle","entry":${'['.repeat(5000)}${']'.repeat(5000)}}`,
      ),
    search: unread('answer nested too deep'),
  },
  {
    what: 'a redirect to another origin',
    misbehave: (stranger) => status(302, { location: `${stranger}/fhir/Condition` })(),
    search: unread('redirect refused'),
  },
  {
    what: 'a redirect on the same server',
    misbehave: (_stranger, base) => status(307, { location: `${base}/elsewhere` })(),
    search: unread('redirect refused'),
  },
  {
    what: 'a next page on another server',
    misbehave: (stranger) => (response) =>
      sendJson(response, page([{ resourceType: 'Condition', id: 'one' }], `${stranger}/fhir?page=2`)),
    search: 'incomplete: next page on another server, not followed',
    read: null,
  },
  {
    what: 'a next page beside the FHIR server',
    misbehave: (_stranger, base) => (response) => sendJson(response, page([], `${base}/../admin?page=2`)),
    search: 'incomplete: next page on another server, not followed',
    read: null,
  },
  {
    what: 'a next link without an address',
    misbehave: () => (response) => sendJson(response, { ...page([]), link: [{ relation: 'next' }] }),
    search: 'incomplete: more pages were not sent',
    read: null,
  },
  {
    what: 'an OperationOutcome in place of the answer',
    misbehave: () => (response) =>
      sendJson(response, {
        resourceType: 'OperationOutcome',
        issue: [{ severity: 'error', code: 'exception' }],
      }),
    search: 'failed: the query failed',
  },
  {
    what: 'another kind of resource',
    misbehave: () => (response) => sendJson(response, { resourceType: 'Parameters' }),
    search: 'failed: not a search result',
    read: 'absent: another kind of resource',
  },
];

const MATTERS = QUERIES.filter(({ key }) => !READS.includes(key));

describe('a FHIR server that answers one set with', () => {
  for (const fault of FAULTS) {
    it(`${fault.what} leaves that set unread, in time, whichever it is, and the others whole`, async () => {
      const queries = fault.read === null ? MATTERS : QUERIES;
      const stranger = await startStranger();
      await Promise.all(queries.map(({ key }) => expectFault(fault, key, stranger)));
    });
  }

  it('more than any answer may hold leaves it unread, whichever it is, and the others whole', async () => {
    const endless: Fault = {
      what: 'endless',
      misbehave: () => sendEndless,
      search: unread('answer too large'),
    };
    const stranger = await startStranger();
    for (const { key } of QUERIES) await expectFault(endless, key, stranger);
  }, 120_000);
});

/** Reads the set, faulty as told, beside a read and a search that are answered rightly. */
async function expectFault(fault: Fault, key: string, stranger: Listening): Promise<void> {
  const url = queriesOf(key)[0]?.url ?? '';
  const isFaulty = (path: string): boolean => decodeURIComponent(path) === url;
  const server = await start((path, base) =>
    isFaulty(path) ? fault.misbehave(stranger.origin, base) : undefined,
  );
  const budgetMs = fault.budgetMs ?? AMPLE_MS;
  const queries = queriesOf(
    key,
    key === 'devices' ? 'procedures' : 'devices',
    key === 'user' ? 'patient' : 'user',
  );
  const started = performance.now();
  const sets = await open(readerFor(server.base, { budgetMs }), server.base).readSets(queries);
  expect(performance.now() - started).toBeLessThan(budgetMs + SLACK_MS);
  const expected = READS.includes(key) ? (fault.read ?? fault.search) : fault.search;
  const whole = Object.fromEntries(queries.map((query) => [query.key, 'complete']));
  expect(states(sets)).toEqual({ ...whole, [key]: expected });
  const asked = server.requests.map((request) => pathOf(request.url));
  expect(asked.filter(isFaulty).length).toBe(fault.asked ?? 1);
  expect(asked.length).toBe(2 + (fault.asked ?? 1));
  // F9: the token was seen where it belongs, and nothing was asked elsewhere.
  expect(new Set(server.requests.map(({ authorization }) => authorization))).toEqual(
    new Set([`Bearer ${TOKEN}`]),
  );
  expect(stranger.requests).toEqual([]);
}

describe('a FHIR server that answers nothing', () => {
  it('costs no more than the budget, all sets together', async () => {
    const server = await start(() => () => undefined);
    const started = performance.now();
    const sets = await open(readerFor(server.base, { budgetMs: 300 }), server.base).readSets(QUERIES);
    expect(performance.now() - started).toBeLessThan(300 + SLACK_MS);
    expect(new Set(Object.values(states(sets)))).toEqual(new Set([unread('no answer in time')]));
  });

  it('costs no more than the budget when it is not there at all', async () => {
    const gone = await start(() => undefined);
    await gone.stop();
    const sets = await open(readerFor(gone.base), gone.base).readSets(QUERIES);
    expect(new Set(Object.values(states(sets)))).toEqual(new Set([unread('the connection failed')]));
  });

  it('leaves a reference unread', async () => {
    for (const misbehave of [status(500)(), status(403)(), () => undefined] satisfies readonly Misbehave[]) {
      const server = await start(() => misbehave);
      const session = open(readerFor(server.base, { budgetMs: 500 }), server.base);
      expect(await session.readReference('ServiceRequest/abc')).toBeUndefined();
    }
  });

  it('or with another resource leaves a reference unread', async () => {
    const server = await start(
      () => (response) => sendJson(response, { resourceType: 'ServiceRequest', id: 'another' }),
    );
    expect(
      await open(readerFor(server.base), server.base).readReference('ServiceRequest/abc'),
    ).toBeUndefined();
  });
});

describe('a fault of the moment', () => {
  /** Misbehaves once at the set, then answers rightly. */
  const once = (misbehave: Misbehave): (() => Misbehave | undefined) => {
    let used = false;
    return () => {
      if (used) return undefined;
      used = true;
      return misbehave;
    };
  };
  const passing: Readonly<Record<string, Misbehave>> = {
    '429': status(429, { 'retry-after': '0' })(),
    '429 until a date gone by': status(429, { 'retry-after': 'Mon, 01 Jan 2024 00:00:00 GMT' })(),
    '503': status(503)(),
    'a reset': (_response, request) => {
      request.socket.resetAndDestroy();
    },
  };
  for (const [what, misbehave] of Object.entries(passing)) {
    it(`(${what}) is overcome by asking once more`, async () => {
      const server = await start(once(misbehave));
      const sets = await open(readerFor(server.base), server.base).readSets(queriesOf('conditions'));
      expect(states(sets)).toEqual({ conditions: 'complete' });
      expect(server.requests.length).toBe(2);
    });
  }

  it('is waited out when Retry-After fits the budget', async () => {
    const server = await start(once(status(503, { 'retry-after': '1' })()));
    const started = performance.now();
    const sets = await open(readerFor(server.base), server.base).readSets(queriesOf('conditions'));
    expect(states(sets)).toEqual({ conditions: 'complete' });
    // RFC 9110 section 10.2.3: seconds to wait. A timer may fire a millisecond early.
    expect(performance.now() - started).toBeGreaterThan(990);
  });

  it('is not asked about again when no time remains', async () => {
    const server = await start(() => status(503)());
    await open(readerFor(server.base, { budgetMs: 20 }), server.base).readSets(queriesOf('conditions'));
    expect(server.requests.length).toBeLessThan(2);
  });
});

describe('what is forbidden', () => {
  it('is remembered for this token and patient, and for no other', async () => {
    let clock = 0;
    const server = await start(() => status(403)());
    const reader = readerFor(server.base, { now: () => clock });
    const ask = async (scopes: string, patient = PATIENT_ID): Promise<number> => {
      const before = server.requests.length;
      const sets = await open(reader, server.base, scopes).readSets([
        { key: 'conditions', url: `Condition?patient=${patient}` },
        { key: 'patient', url: `Patient/${patient}` },
      ]);
      expect(states(sets)).toEqual({ conditions: NOT_OFFERED, patient: NOT_OFFERED });
      return server.requests.length - before;
    };
    expect(await ask('user/*.read')).toBe(2);
    expect(await ask('user/*.read')).toBe(0);
    expect(await ask('user/*.rs')).toBe(2);
    // A record may be closed for one patient; that must not close the others.
    expect(await ask('user/*.read', 'another')).toBe(2);
    clock += HOUR_MS;
    expect(await ask('user/*.read')).toBe(2);
  });

  it('with one key is no word on another key of the same type', async () => {
    const server = await start((path) => (path.includes('category') ? status(403)() : undefined));
    const reader = readerFor(server.base);
    for (const call of [1, 2]) {
      const sets = await open(reader, server.base).readSets(queriesOf('measures', 'observations'));
      expect(states(sets), `call ${call}`).toEqual({ measures: NOT_OFFERED, observations: 'complete' });
    }
  });
});

describe('what is not found', () => {
  it('of a type that was answered within the hour is about this patient, and asked for again', async () => {
    let missing = false;
    const server = await start(() => (missing ? status(404)() : undefined));
    const reader = readerFor(server.base);
    const ask = async (): Promise<string | undefined> =>
      states(await open(reader, server.base).readSets(queriesOf('conditions')))['conditions'];
    expect(await ask()).toBe('complete');
    missing = true;
    expect(await ask()).toBe(NOT_OFFERED);
    missing = false;
    expect(await ask()).toBe('complete');
  });

  it('of one patient says nothing of another, until a second patient is not found either', async () => {
    let missing = true;
    const server = await start(() => (missing ? status(404)() : undefined));
    const reader = readerFor(server.base);
    const askFor = async (patient: string): Promise<number> => {
      const before = server.requests.length;
      await open(reader, server.base).readSets([{ key: 'conditions', url: `Condition?patient=${patient}` }]);
      return server.requests.length - before;
    };
    expect(await askFor('one')).toBe(1);
    expect(await askFor('one')).toBe(0);
    expect(await askFor('two')).toBe(1);
    missing = false;
    // Truth: integration decisions section 2: what is not offered is remembered for an hour, of the type by now.
    expect(await askFor('three')).toBe(0);
  });

  it('as a single resource is asked for again', async () => {
    const server = await start(() => status(404)());
    const reader = readerFor(server.base);
    for (const call of [1, 2]) {
      await open(reader, server.base).readSets(queriesOf('patient'));
      expect(server.requests.length).toBe(call);
    }
  });
});

describe('further pages', () => {
  /** The first page leads on to what `further` answers. */
  const paged = (further: (response: Parameters<Misbehave>[0], base: string, number: number) => void) => {
    let number = 1;
    return (path: string, base: string): Misbehave => {
      if (!path.startsWith('?'))
        return (response) =>
          sendJson(response, page([{ resourceType: 'Condition', id: 'p1' }], `${base}?page=2`));
      number += 1;
      const mine = number;
      return (response) => further(response, base, mine);
    };
  };
  const read = async (server: FaultyServer): Promise<readonly [string | undefined, readonly string[]]> => {
    const sets = await open(readerFor(server.base), server.base).readSets(queriesOf('conditions'));
    return [states(sets)['conditions'], idsOf(sets.get('conditions'))];
  };

  it('that lead in a circle are left', async () => {
    const server = await start(
      paged((response, base, number) =>
        sendJson(response, page([{ resourceType: 'Condition', id: `p${number}` }], `${base}?page=2`)),
      ),
    );
    expect(await read(server)).toEqual(['incomplete: pages lead in a circle', ['p1', 'p2']]);
    expect(server.requests.length).toBe(2);
  });

  it('that hold more than ten thousand resources are left', async () => {
    const many = (number: number): readonly unknown[] =>
      Array.from({ length: 3000 }, (_unused, index) => ({
        resourceType: 'Condition',
        id: `p${number}-${index}`,
      }));
    const server = await start(
      paged((response, base, number) => sendJson(response, page(many(number), `${base}?page=${number + 1}`))),
    );
    const [state, ids] = await read(server);
    expect(state).toBe('incomplete: more than 10000 resources');
    // The first page holds one, then four of three thousand pass the limit.
    expect(ids.length).toBe(12_001);
  });

  const broken: Readonly<Record<string, readonly [(response: Parameters<Misbehave>[0]) => void, string]>> = {
    'are refused': [
      (response) => sendStatus(response, 400),
      'incomplete: a further page could not be read (query refused)',
    ],
    'are gone': [
      (response) => sendStatus(response, 410),
      'incomplete: a further page could not be read (not there)',
    ],
    'fail twice': [
      (response) => sendStatus(response, 500),
      'incomplete: a further page could not be read (server failed)',
    ],
    'hold an error': [
      (response) =>
        sendJson(
          response,
          page([{ resourceType: 'OperationOutcome', issue: [{ severity: 'error', code: 'timeout' }] }]),
        ),
      'failed: the query failed',
    ],
    'hold an entry without a resource': [
      (response) => sendJson(response, { ...page([]), entry: [{ fullUrl: 'urn:uuid:0' }] }),
      'incomplete: 1 entries without a resource',
    ],
    'are no Bundle': [
      (response) => sendJson(response, { resourceType: 'Parameters' }),
      'failed: not a search result',
    ],
  };
  for (const [what, [answer, expected]] of Object.entries(broken)) {
    it(`that ${what} leave the set not wholly read, with what came before`, async () => {
      const server = await start(paged(answer));
      expect(await read(server)).toEqual([expected, ['p1']]);
    });
  }

  it('of a prefetch Bundle are not followed to another server', async () => {
    const stranger = await startStranger();
    const server = await start(() => undefined);
    const session = open(readerFor(server.base), server.base);
    const before = [{ resource: { resourceType: 'Condition', id: 'sent' } }];
    for (const next of [
      `${stranger.origin}/fhir?page=2`,
      '//127.0.0.1:1/fhir',
      `${server.origin}/admin`,
      'javascript:alert(1)',
      '',
    ]) {
      const set = await session.continueSet('conditions', next, before);
      expect(set.status, next).toBe('incomplete');
      expect(idsOf(set)).toEqual(['sent']);
    }
    // P15.
    expect([...stranger.requests, ...server.requests]).toEqual([]);
  });
});

describe('requests', () => {
  it('are no more than six at a time, and as many as that', async () => {
    let most = 0;
    const waiting: (() => void)[] = [];
    const release = (): void => waiting.splice(0).forEach((answer) => answer());
    const server = await start((path) => (response) => {
      waiting.push(() => sendJson(response, rightAnswer(path)));
      most = Math.max(most, waiting.length);
      // Held until six are there, and a little longer, so that a seventh would be seen; should six never come, the test fails.
      setTimeout(release, most === waiting.length && waiting.length === 6 ? 100 : 2000);
    });
    // Two times six.
    await open(readerFor(server.base), server.base).readSets(QUERIES.slice(0, 12));
    // Integration decisions section 2: parallel ≤ 6, and parallel at all.
    expect(most).toBe(6);
  });

  it('whose address can only be made by leaving the base are not made', async () => {
    const server = await start(() => undefined);
    const sets = await open(readerFor(server.base), server.base).readSets([
      { key: 'user', url: 'PractitionerRole/..' },
      { key: 'patient', url: 'Patient/1/../../admin' },
      { key: 'conditions', url: 'http://127.0.0.1:1/Condition?patient=1' },
    ]);
    expect(new Set(Object.values(states(sets)))).toEqual(
      new Set(['failed: could not be read (no address can be made)']),
    );
    expect(server.requests).toEqual([]);
  });
});

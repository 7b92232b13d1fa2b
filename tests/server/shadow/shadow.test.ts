import { readdirSync, readFileSync } from 'node:fs';
import { getPriority } from 'node:os';
import { pino } from 'pino';
import { afterEach, describe, expect, it, test, vi } from 'vitest';
import { advise } from '../../../src/advice/index.js';
import type { AdviceInput } from '../../../src/advice/index.js';
import { readDataSet } from '../../../src/fhir/bundle.js';
import { startShadow } from '../../../src/server/shadow/shadow.js';
import type { AnsweredCall, Shadow, ShadowEvent, ShadowParts } from '../../../src/server/shadow/shadow.js';
import type { Difference } from '../../../src/store/difference.js';
import { advisor, inputFor, testPatient } from '../../advice/patients.js';
import { bodyOf, faulty, FROM_SOURCE, renumbered, stricter } from './candidates.js';

interface Tried {
  readonly shadow: Shadow;
  readonly kept: Difference[];
  readonly events: ShadowEvent[];
  readonly logged: string[];
}

const running: Shadow[] = [];

afterEach(async () => {
  await Promise.all(running.splice(0).map((shadow) => shadow.close()));
});

/** Quick to give up and to start again, so that a test need not wait. */
const SOON = { firstPauseMs: 20, longestPauseMs: 40 } as const;

function tried(
  settings: NonNullable<ShadowParts['settings']>,
  { candidate = stricter, store }: Partial<Pick<ShadowParts, 'candidate' | 'store'>> = {},
): Tried {
  const kept: Difference[] = [];
  const events: ShadowEvent[] = [];
  const logged: string[] = [];
  const keeping = {
    saveDifference: (difference: Difference): Promise<void> => {
      kept.push(difference);
      return Promise.resolve();
    },
  };
  const shadow = startShadow({
    candidate,
    store: store ?? keeping,
    log: pino({ level: 'debug' }, { write: (line: string) => void logged.push(line) }),
    onEvent: (event) => void events.push(event),
    settings: { thread: FROM_SOURCE, ...SOON, share: 1, ...settings },
  });
  running.push(shadow);
  return { shadow, kept, events, logged };
}

async function answered(input: AdviceInput, decision = 'decision-1'): Promise<AnsweredCall> {
  const advice = await advise(input, advisor);
  return { decision, body: bodyOf(input), input, isCompleted: false, advice };
}

function orderOf(patient: string): AdviceInput {
  const input = inputFor(testPatient(patient).bundle, 'order-sign');
  if (!input) throw new Error(`${patient} has nothing to sign`);
  return input;
}

const textbook = await answered(orderOf('textbook-hip'));
/** Starting a thread from source takes a while, and on a busy machine it comes last. */
const PATIENT = { timeout: 80_000, interval: 10 } as const;
vi.setConfig({ testTimeout: 90_000 });

async function until({ events }: Tried, ...expected: readonly ShadowEvent[]): Promise<void> {
  await vi.waitFor(() => {
    for (const event of expected) expect(events).toContain(event);
  }, PATIENT);
}

describe('a candidate in the shadow', () => {
  it('keeps what it would have said otherwise, and nothing of the patient', async () => {
    const one = tried({});
    one.shadow.offer(textbook);
    await until(one, 'differed');
    const rule = 'cup-inclination-above-classical';
    const about = { decision: 'decision-1', at: textbook.input.now, candidateHash: stricter.hash };
    const place = { hip: 'left', construct: 'planned', rule };
    // By hand: 40° of the textbook hip against a limit of 30° in the candidate, and of 50° in what is in force.
    expect(one.kept).toContainEqual({
      ...about,
      kind: 'outcome',
      ...place,
      was: 'does-not-fire',
      would: 'fires',
    });
    expect(one.kept).toContainEqual({ ...about, kind: 'card', ...place, was: 'none', would: 'info' });
    expect(new Set(one.kept.map((each) => each.rule))).toEqual(new Set([rule]));
    const words = new Set(one.kept.flatMap(({ was, would }) => [was, would]));
    expect(words).toEqual(new Set(['does-not-fire', 'fires', 'none', 'info']));
    expect(one.logged.join('')).not.toContain('textbook');
  });

  it('keeps nothing where only the version is another, though every card names its version', async () => {
    const one = tried({}, { candidate: renumbered });
    const steep = await answered(orderOf('steep-cup-large-head'));
    expect(steep.advice.kind === 'answer' && steep.advice.cards.length).toBe(1);
    one.shadow.offer(steep);
    await until(one, 'same');
    expect(one.kept).toEqual([]);
  });

  it('reads what the record system added to the call, and the sets read from it', async () => {
    const input = orderOf('steep-cup-large-head');
    const { measures, ...prefetch } = input.prefetch;
    const fetched = new Map([['measures', readDataSet({ measures }, 'measures', 'Bundle')] as const]);
    const completed = { ...input, prefetch, fetched };
    const call = await answered(completed);
    expect(call.advice.kind === 'answer' && call.advice.cards.length).toBe(1);
    const one = tried({}, { candidate: renumbered });
    // The body lacks the order; without it, and without the measures, nothing would be said.
    one.shadow.offer({ ...call, body: bodyOf({ ...completed, context: {} }), isCompleted: true });
    await until(one, 'same');
    expect(one.kept).toEqual([]);
  });

  it('drops and counts what it cannot keep up with, and holds no more than its bound', () => {
    const one = tried({ thread: faulty('never-ready'), mostWaiting: 2, startLimitMs: 60_000 });
    for (let index = 0; index < 10; index += 1) one.shadow.offer(textbook);
    // One is being asked, two wait.
    expect(one.events.filter((event) => event === 'dropped')).toHaveLength(7);
    const byBytes = tried({ thread: faulty('never-ready'), mostBytes: textbook.body.byteLength });
    for (let index = 0; index < 3; index += 1) byBytes.shadow.offer(textbook);
    expect(byBytes.events.filter((event) => event === 'dropped')).toHaveLength(2);
  });

  it('rests after each call, longer than it worked, and looks at all that wait all the same', async () => {
    const one = tried({ share: 0.01, longestRestMs: 400 });
    const began = performance.now();
    for (let calls = 0; calls < 3; calls += 1) one.shadow.offer(textbook);
    await vi.waitFor(() => {
      expect(one.events.filter((event) => event === 'same' || event === 'differed')).toHaveLength(3);
    }, PATIENT);
    // Two rests lie between three calls; starting the thread, which takes far longer than a call, makes each the longest.
    expect(performance.now() - began).toBeGreaterThan(2 * 400);
    expect(one.events).not.toContain('dropped');
  });

  it('tells when what differs cannot be kept, and goes on', async () => {
    let calls = 0;
    const store = {
      saveDifference: (): Promise<void> => {
        calls += 1;
        return calls === 1 ? Promise.reject(new Error('disk full')) : Promise.resolve();
      },
    };
    const one = tried({}, { store });
    one.shadow.offer(textbook);
    one.shadow.offer(textbook);
    await until(one, 'not-kept');
    await vi.waitFor(() => {
      expect(one.events.filter((event) => event === 'differed')).toHaveLength(2);
    }, PATIENT);
  });
});

describe('a candidate that', () => {
  const kinds = [
    ['throws', 'stopped'],
    ['loops', 'timed-out'],
    ['grows', 'stopped'],
    ['exits', 'stopped'],
  ] as const;

  test.each(kinds)(
    '%s is ended and started anew, and the call it had is told as a fault',
    async (how, event) => {
      const one = tried({ thread: faulty(how), timeLimitMs: how === 'loops' ? 400 : 20_000 });
      one.shadow.offer(textbook);
      await until(one, event, 'stopped');
      await vi.waitFor(() => {
        expect(one.events.filter((each) => each === 'started').length).toBeGreaterThan(1);
      }, PATIENT);
      expect(one.kept).toHaveLength(1);
      expect(one.kept[0]).toMatchObject({
        decision: 'decision-1',
        kind: how === 'loops' ? 'timeout' : 'fault',
        candidateHash: stricter.hash,
      });
      // The message of the error, which names a patient, stands nowhere.
      expect(JSON.stringify(one.kept) + one.logged.join('')).not.toContain('patient-1');
    },
  );

  test.each(['throws-at-start', 'never-ready'] as const)(
    '%s is tried again and again, and never throws',
    async (how) => {
      const one = tried({ thread: faulty(how), startLimitMs: 300 });
      one.shadow.offer(textbook);
      await vi.waitFor(() => {
        expect(one.events.filter((event) => event === 'stopped').length).toBeGreaterThan(2);
      }, PATIENT);
      expect(one.kept).toEqual([]);
      expect(one.logged.join('')).not.toContain('patient-1');
    },
  );

  it('prints reaches no output of the service', async () => {
    const out = vi.spyOn(process.stdout, 'write');
    const err = vi.spyOn(process.stderr, 'write');
    const one = tried({ thread: faulty('prints') });
    one.shadow.offer(textbook);
    await until(one, 'same');
    const written = [...out.mock.calls, ...err.mock.calls].map(([text]) => String(text)).join('');
    out.mockRestore();
    err.mockRestore();
    expect(written).not.toContain('patient-1');
  });

  it('never starts is not started any more once the service has closed it', async () => {
    const one = tried({ thread: faulty('throws-at-start'), firstPauseMs: 1, longestPauseMs: 1 });
    await vi.waitFor(() => {
      expect(one.events.filter((event) => event === 'stopped').length).toBeGreaterThan(4);
    }, PATIENT);
    await one.shadow.close();
    const stopped = one.events.filter((event) => event === 'stopped').length;
    await new Promise((resolve) => setTimeout(resolve, 50));
    expect(one.events.filter((event) => event === 'stopped').length).toBe(stopped);
  });

  it.skipIf(process.platform !== 'linux')(
    'runs takes what time nobody else needs, and the service keeps its own priority',
    async () => {
      const before = getPriority();
      const one = tried({});
      await until(one, 'started');
      expect(getPriority()).toBe(before);
      // The nineteenth field of a thread's stat is its nice value (proc(5)).
      const nice = readdirSync('/proc/self/task').map((task) =>
        Number(readFileSync(`/proc/self/task/${task}/stat`, 'utf8').split(') ')[1]?.split(' ')[16]),
      );
      expect(nice).toContain(19);
    },
  );
});

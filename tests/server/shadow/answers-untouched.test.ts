import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pino } from 'pino';
import { afterEach, describe, expect, it, test, vi } from 'vitest';
import { packText } from '../../../src/rulebook-files/pack-file.js';
import { readConfig } from '../../../src/server/config.js';
import { startService } from '../../../src/server/serve.js';
import { loadCandidate } from '../../../src/server/shadow/load-candidate.js';
import { startShadow } from '../../../src/server/shadow/shadow.js';
import type { Shadow, ShadowEvent, ShadowParts } from '../../../src/server/shadow/shadow.js';
import { openStore } from '../../../src/store/open-store.js';
import type { Difference } from '../../../src/store/difference.js';
import type { Store } from '../../../src/store/store.js';
import { testPatient } from '../../advice/patients.js';
import { RULES } from '../../rulebook/shipped.js';
import {
  BOOKING_PATH,
  callFor,
  cardsOf,
  ORDER_PATH,
  orderCall,
  post,
  TEST_KEY,
  testApp,
} from '../test-service.js';
import type { HookCall, Reply } from '../test-service.js';
import { faulty, FROM_SOURCE, renumbered, stricter, stricterPack } from './candidates.js';

const folder = mkdtempSync(join(tmpdir(), 'kotyle-candidate-'));
const opened: { readonly close: () => Promise<void> }[] = [];

afterEach(async () => {
  for (const one of opened.splice(0)) await one.close();
});

interface Service {
  readonly store: Store;
  readonly events: ShadowEvent[];
  readonly ask: (path: string, call: unknown) => Promise<Reply>;
}

async function serviceWith(settings?: ShadowParts['settings'], candidate = stricter): Promise<Service> {
  const store = await openStore({ path: ':memory:', contentKey: TEST_KEY });
  const events: ShadowEvent[] = [];
  const shadow: Shadow | undefined =
    settings &&
    startShadow({
      candidate,
      store,
      log: pino({ level: 'silent' }),
      onEvent: (event) => void events.push(event),
      settings: { firstPauseMs: 10, longestPauseMs: 20, timeLimitMs: 300, share: 1, ...settings },
    });
  if (shadow) opened.push(shadow);
  opened.push(store);
  const app = testApp({ store, ...(shadow && { shadow }) });
  return { store, events, ask: (path, call) => post(app, path, call) };
}

const CALLS: readonly (readonly [path: string, call: HookCall])[] = [
  [ORDER_PATH, orderCall()],
  [ORDER_PATH, callFor(testPatient('steep-cup-large-head').bundle, 'order-sign')],
  [BOOKING_PATH, callFor(testPatient('demo-parkinson-steep-cup').bundle, 'appointment-book')],
  [ORDER_PATH, callFor(testPatient('knee-replacement').bundle, 'order-sign')],
];

async function answersOf({ ask }: Service): Promise<readonly (readonly [number, string])[]> {
  const answers: (readonly [number, string])[] = [];
  for (const [path, call] of CALLS) {
    const { status, text } = await ask(path, call);
    answers.push([status, text]);
  }
  return answers;
}

async function differencesIn(store: Store): Promise<readonly Difference[]> {
  const differences: Difference[] = [];
  for await (const difference of store.differences()) differences.push(difference);
  return differences;
}

const PATIENT = { timeout: 80_000, interval: 10 } as const;
vi.setConfig({ testTimeout: 90_000 });

describe('a service with a candidate that', () => {
  const kinds = ['throws', 'loops', 'grows', 'exits', 'throws-at-start', 'never-ready'] as const;

  test.each(kinds)('%s answers what it answers without one, byte for byte', async (how) => {
    const without = await answersOf(await serviceWith());
    expect(without.map(([status]) => status)).toEqual([200, 200, 200, 200]);
    const service = await serviceWith({ thread: faulty(how), startLimitMs: 300 });
    expect(await answersOf(service)).toEqual(without);
    await vi.waitFor(() => expect(service.events).toContain('stopped'), PATIENT);
    // And again, now that it has failed.
    expect(await answersOf(service)).toEqual(without);
  });

  it('would say more answers the same, and keeps what differs beside the decision it differs from', async () => {
    const without = await answersOf(await serviceWith());
    const service = await serviceWith({ thread: FROM_SOURCE, timeLimitMs: 60_000 });
    expect(await answersOf(service)).toEqual(without);
    await vi.waitFor(() => expect(service.events.length).toBeGreaterThan(CALLS.length), PATIENT);
    const differences = await differencesIn(service.store);
    const [first] = differences.filter(({ kind }) => kind === 'card');
    expect(first).toMatchObject({ rule: 'cup-inclination-above-classical', was: 'none', would: 'info' });
    const decision = await service.store.decision(first?.decision ?? '');
    expect(decision?.cards).toEqual([]);
    expect(decision?.at).toBe(first?.at);
  });
});

describe('a candidate in a running service', () => {
  it('knows what was answered before, so that a card kept quiet is no difference', async () => {
    const service = await serviceWith({ thread: FROM_SOURCE, timeLimitMs: 60_000 }, renumbered);
    const call = callFor(testPatient('steep-cup-large-head').bundle, 'order-sign');
    const [card] = cardsOf(await service.ask(ORDER_PATH, call));
    const answer = {
      card: card?.uuid,
      outcome: 'accepted',
      acceptedSuggestions: card?.suggestions.slice(0, 1).map(({ uuid: id }) => ({ id })),
      outcomeTimestamp: '2026-11-24T09:00:00Z',
    };
    expect((await service.ask(`${ORDER_PATH}/feedback`, { feedback: [answer] })).status).toBe(200);
    const again = { ...call, hookInstance: '3f2b8f0e-6a3c-4d63-9c1e-5b8a7d2f4e99' };
    expect(cardsOf(await service.ask(ORDER_PATH, again))).toEqual([]);
    await vi.waitFor(() => {
      expect(service.events.filter((event) => event === 'same')).toHaveLength(2);
    }, PATIENT);
    expect(await differencesIn(service.store)).toEqual([]);
  });

  it('is not shown a call that got no advice', async () => {
    const service = await serviceWith({ thread: FROM_SOURCE, timeLimitMs: 60_000 });
    const lay = orderCall({ context: { userId: 'Patient/patient-1' } });
    expect((await service.ask(ORDER_PATH, lay)).status).toBe(200);
    expect((await service.ask(ORDER_PATH, { hook: 'order-sign' })).status).toBe(400);
    await service.ask(ORDER_PATH, orderCall());
    await vi.waitFor(() => expect(service.events).toContain('differed'), PATIENT);
    expect(service.events.filter((event) => event !== 'started')).toHaveLength(1);
  });
});

describe('a candidate with a fault', () => {
  function fileWith(name: string, text: string): string {
    const path = join(folder, name);
    writeFileSync(path, text);
    return path;
  }

  it('is read from a released pack and from a folder, under the same hash', () => {
    expect(loadCandidate(fileWith('stricter.json', packText(stricterPack))).hash).toBe(stricter.hash);
    expect(loadCandidate(RULES).version).toBe(stricter.version);
  });

  it('is refused by file, path, expected and found', () => {
    const changed = packText(stricterPack).replace('"version":"20', '"version":"30');
    expect(() => loadCandidate(fileWith('changed.json', changed))).toThrow(
      /expected the hash it states.*found sha256/,
    );
    expect(() => loadCandidate(join(folder, 'nowhere'))).toThrow(
      /KOTYLE_CANDIDATE: expected .* found nothing at/,
    );
    const files = stricterPack.files.filter(({ path }) => path !== 'computations/cup-position.json');
    expect(() => loadCandidate(fileWith('half.json', packText({ files })))).toThrow(
      /has faults:\n.*: expected .*, found /s,
    );
  });

  it('keeps the service from starting, before a store is made', async () => {
    const config = readConfig({
      KOTYLE_PORT: '0',
      KOTYLE_LOG_LEVEL: 'silent',
      KOTYLE_STORE: join(folder, 'none.sqlite'),
      KOTYLE_CANDIDATE: fileWith('no-pack.json', '{}'),
    });
    await expect(startService(config)).rejects.toThrow(/KOTYLE_CANDIDATE: .*no-pack.json: expected/);
    expect(() => loadCandidate(join(folder, 'none.sqlite'))).toThrow(/found nothing/);
  });
});

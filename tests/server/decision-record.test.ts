import express from 'express';
import { pino } from 'pino';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { newAdmission } from '../../src/server/operations/admission.js';
import { newMetrics } from '../../src/server/operations/metrics.js';
import { readConfig } from '../../src/server/config.js';
import type { Config } from '../../src/server/config.js';
import { answerAndKeep } from '../../src/server/decision-record.js';
import { openStore } from '../../src/store/open-store.js';
import type { DecisionRecord, Store } from '../../src/store/store.js';
import { decision, uuid } from '../store/records.js';
import { post, problem, TEST_KEY } from './test-service.js';

const SECRET = 'Zqxmarker';

let store: Store;
let order: string[];
let lines: string[];
beforeEach(async () => {
  store = await openStore({ path: ':memory:', contentKey: TEST_KEY });
  order = [];
  lines = [];
});
afterEach(() => store.close());

/** An application that answers everything, keeps `record`, and notes in which order things happened. */
function appWith(
  audit: Config['audit'],
  saveDecision: Store['saveDecision'] = store.saveDecision,
  record: () => DecisionRecord = () => decision(1),
): ReturnType<typeof express> {
  const log = pino({ level: 'trace' }, { write: (line: string) => lines.push(line) });
  const metrics = newMetrics();
  const parts = {
    config: { ...readConfig({}), audit },
    log,
    metrics,
    admission: newAdmission({ mostAtOnce: 32, busyMs: 1000 }, metrics),
    store: {
      ...store,
      saveDecision: async (kept: DecisionRecord) => {
        await saveDecision(kept);
        order.push('kept');
      },
    },
  };
  const send = (response: express.Response): void => {
    order.push('sent');
    response.json({ cards: [] });
  };
  return express().post('/', (_request, response) =>
    answerAndKeep(response, { send: () => send(response), record, content: () => undefined }, parts),
  );
}

const failing = (): Promise<void> => Promise.reject(new Error(`no room for ${SECRET}`));
const brokenRecord = (): DecisionRecord => {
  throw new TypeError(`cannot write ${SECRET} down`);
};

describe('a decision', () => {
  // Integration decisions section 5: KOTYLE_AUDIT; style, errors: the row on audit writes.
  it('is kept after the answer has left, by default', async () => {
    const reply = await post(appWith('best-effort'), '/', {});
    expect(reply.status).toBe(200);
    while (order.length < 2) await new Promise(setImmediate);
    expect(order).toEqual(['sent', 'kept']);
    expect(await store.decision(uuid(1))).toEqual(decision(1));
    expect(lines).toEqual([]);
  });

  it('is kept before the answer leaves, where it is required', async () => {
    const reply = await post(appWith('required'), '/', {});
    expect(reply.status).toBe(200);
    expect(order).toEqual(['kept', 'sent']);
    expect(await store.decision(uuid(1))).toEqual(decision(1));
  });

  it('that could not be kept is logged and answered all the same, by default', async () => {
    for (const app of [appWith('best-effort', failing), appWith('best-effort', undefined, brokenRecord)]) {
      lines.length = 0;
      const reply = await post(app, '/', {});
      expect(reply.status).toBe(200);
      while (lines.length < 1) await new Promise(setImmediate);
      expect(lines.join('')).toContain('decision could not be kept');
      expect(lines.join('')).not.toContain(SECRET);
    }
    expect(order).toEqual(['sent', 'sent']);
  });

  it('that could not be kept is no answer, where it is required', async () => {
    for (const app of [appWith('required', failing), appWith('required', undefined, brokenRecord)]) {
      lines.length = 0;
      expect(problem(await post(app, '/', {}), 503, [SECRET])).toMatchObject([{ code: 'no-store' }]);
      expect(lines).toHaveLength(1);
      expect(lines.join('')).not.toContain(SECRET);
    }
    expect(order).toEqual([]);
  });
});

import { Agent } from 'node:http';
import { openStore } from '../../src/store/open-store.js';
import type { Verification } from '../../src/store/store.js';
import { testPatients } from '../advice/patients.js';
import { rowsOf } from '../postgres/postgres-server.js';
import { answer, TEST_KEY, uuid } from '../store/records.js';
import { startBundled, statusOf } from './bundled-service.js';
import { callFor, ORDER_PATH } from './test-service.js';

/** How much is sent, and to how many processes on one database. */
export interface Load {
  readonly bundled: string;
  readonly store: string;
  readonly instances: number;
  readonly calls: number;
  readonly answers: number;
}

export interface Outcome {
  /** Calls a second, all processes together, each answered after its record was durable. */
  readonly callsPerSecond: number;
  readonly answersPerSecond: number;
  /** Calls that were answered with 200, and the records and distinct calls that stand in the database. */
  readonly answered: number;
  readonly records: number;
  readonly distinct: number;
  /** Answers of clinicians kept, each of which was sent to every process, in opposite orders. */
  readonly kept: number;
  readonly verification: Verification;
}

const CLIENTS = 8;
const ANSWERS_AT_ONCE = 5;

/** Several processes on one database: each call goes to one of them, each clinician's answer to all. */
export async function runInstances({ bundled, store, instances, calls, answers }: Load): Promise<Outcome> {
  const running = await Promise.all(
    Array.from({ length: instances }, () =>
      startBundled(bundled, store, { KOTYLE_AUDIT: 'required', KOTYLE_LOG_LEVEL: 'info' }),
    ),
  );
  const agent = new Agent({ keepAlive: true });
  try {
    const bodies = callBodies(calls);
    const calling = await timed(() =>
      sendAll(
        bodies.map((body, index) => ({ url: `${running[index % instances]?.url}${ORDER_PATH}`, body })),
        agent,
      ),
    );
    const answering = await timed(() =>
      Promise.all(
        running.map(({ url }, index) => {
          const sent = answerBodies(answers).map((body) => ({ url: `${url}${ORDER_PATH}/feedback`, body }));
          return sendAll(index % 2 === 0 ? sent : sent.reverse(), agent);
        }),
      ),
    );
    const [counted] = await rowsOf(
      store,
      'select count(*) as records, count(distinct key) as calls, (select count(*) from feedback) as kept from decisions',
    );
    return {
      callsPerSecond: calls / calling.seconds,
      answersPerSecond: (answers * instances) / answering.seconds,
      answered: calling.value,
      records: Number(counted?.['records']),
      distinct: Number(counted?.['calls']),
      kept: Number(counted?.['kept']),
      verification: await verified(store),
    };
  } finally {
    agent.destroy();
    for (const { child } of running) child.kill('SIGKILL');
  }
}

function callBodies(count: number): readonly string[] {
  const patients = testPatients().filter(({ expected }) => expected.cards['order-sign']);
  return Array.from({ length: count }, (_, index) => {
    const { bundle } = patients[index % patients.length] ?? patients[0] ?? { bundle: {} };
    return JSON.stringify({ ...callFor(bundle, 'order-sign'), hookInstance: uuid(2_000_000 + index) });
  });
}

function answerBodies(count: number): readonly string[] {
  return Array.from({ length: Math.ceil(count / ANSWERS_AT_ONCE) }, (_, group) => {
    const numbers = Array.from(
      { length: ANSWERS_AT_ONCE },
      (_item, index) => group * ANSWERS_AT_ONCE + index,
    );
    const feedback = numbers
      .filter((number) => number < count)
      .map((number) => ({
        card: uuid(number),
        outcome: 'overridden',
        outcomeTimestamp: answer(number).at,
        overrideReason: { userComment: `about ${number}` },
      }));
    return JSON.stringify({ feedback });
  });
}

const MOST_TRIES = 20;

/** Sends everything, some at once; answers with how many were answered with 200. A 503 is sent again, as clients do. */
async function sendAll(
  requests: readonly { readonly url: string; readonly body: string }[],
  agent: Agent,
): Promise<number> {
  let [next, answered] = [0, 0];
  const client = async (): Promise<void> => {
    for (let request = requests[next++]; request; request = requests[next++]) {
      for (let tries = 1; tries <= MOST_TRIES; tries += 1) {
        const status = await statusOf(request.url, request.body, agent);
        if (status === 200) answered += 1;
        if (status !== 503) break;
        await new Promise((resolve) => setTimeout(resolve, 100 * tries));
      }
    }
  };
  await Promise.all(Array.from({ length: CLIENTS }, client));
  return answered;
}

async function timed<Value>(
  work: () => Promise<Value>,
): Promise<{ readonly value: Value; readonly seconds: number }> {
  const started = performance.now();
  const value = await work();
  return { value, seconds: (performance.now() - started) / 1000 };
}

async function verified(path: string): Promise<Verification> {
  const store = await openStore({ path, contentKey: TEST_KEY });
  try {
    return await store.verify();
  } finally {
    await store.close();
  }
}

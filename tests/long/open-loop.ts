import { Agent, request } from 'node:http';

/** What is sent, how often, and for how long. */
export interface OpenLoop {
  readonly url: string;
  readonly bodies: readonly string[];
  /** Requests a second, at random moments. */
  readonly rate: number;
  readonly seconds: number;
  /** Connections at most; a request for which none is free is not sent and counted as left out. */
  readonly connections: number;
}

export interface OpenLoopResult {
  /** Answers of each status, and how long each took in milliseconds. */
  readonly times: ReadonlyMap<number, readonly number[]>;
  readonly seconds: number;
  /** Requests that got no answer. */
  readonly failed: number;
  readonly leftOut: number;
  /** Answers of 503 that do not say when to come again. */
  readonly withoutRetryAfter: number;
}

const TICK_MS = 2;

/**
 * Sends at a rate that does not depend on the answers, as many record systems together do: whoever waits for an answer
 * before it asks again would ask less the slower the service is.
 */
export async function openLoop({
  url,
  bodies,
  rate,
  seconds,
  connections,
}: OpenLoop): Promise<OpenLoopResult> {
  const agent = new Agent({ keepAlive: true, maxSockets: connections });
  const times = new Map<number, number[]>();
  let failed = 0;
  let leftOut = 0;
  let withoutRetryAfter = 0;
  let open = 0;
  let sent = 0;
  const send = (): void => {
    if (open >= connections) {
      leftOut += 1;
      return;
    }
    open += 1;
    const body = bodies[(sent += 1) % bodies.length] ?? '';
    const started = performance.now();
    const headers = { 'Content-Type': 'application/json', 'Content-Length': Buffer.byteLength(body) };
    const sending = request(url, { method: 'POST', agent, headers }, (response) => {
      const { statusCode: status = 0 } = response;
      if (status === 503 && response.headers['retry-after'] === undefined) withoutRetryAfter += 1;
      response.resume().on('end', () => {
        open -= 1;
        const taken = times.get(status) ?? [];
        taken.push(performance.now() - started);
        times.set(status, taken);
      });
    });
    sending.on('error', () => {
      open -= 1;
      failed += 1;
    });
    sending.end(body);
  };
  const started = performance.now();
  let due = 0;
  while (performance.now() - started < seconds * 1000) {
    await new Promise((resolve) => setTimeout(resolve, TICK_MS));
    for (const elapsed = (performance.now() - started) / 1000; due < elapsed; due += gap(rate)) send();
  }
  const until = performance.now() + 10_000;
  while (open > 0 && performance.now() < until) await new Promise((resolve) => setTimeout(resolve, 10));
  agent.destroy();
  return {
    times,
    seconds: (performance.now() - started) / 1000,
    failed: failed + open,
    leftOut,
    withoutRetryAfter,
  };
}

/** The time to the next request where they come at random, in seconds. */
function gap(rate: number): number {
  return -Math.log(1 - Math.random()) / rate;
}

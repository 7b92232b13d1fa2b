import { Agent, request } from 'node:http';
import { ORDER_PATH, orderCall, planned, TEXTBOOK } from '../test-service.js';

/** What one request got; undefined status when its connection ended before an answer. */
export interface Exchange {
  readonly status: number | undefined;
  readonly text: string;
}

/** One hook call that was sent, under a number of its own, and what it got. */
export interface CallExchange extends Exchange {
  readonly hookInstance: string;
}

/** Sends one after the other from several clients, each on a connection it keeps, until it is told to stop. */
export interface Traffic<Sent extends Exchange> {
  readonly exchanges: readonly Sent[];
  /** Stops once every client has what it waits for. */
  readonly stop: () => Promise<void>;
}

export function hookInstance(number: number): string {
  return `d1577c69-dfbe-44ad-ba6d-${String(number).padStart(12, '0')}`;
}

/** Signs orders of a steep cup, each of another patient, without pause. A client whose connection ends goes on anew. */
export function callTraffic(url: string, clients: number): Traffic<CallExchange> {
  const measures = [...TEXTBOOK.slice(1), planned('cup-inclination', 60, 'deg')];
  const text = JSON.stringify(orderCall({ measures }));
  return keepSending(clients, async (number, agent) => {
    const instance = hookInstance(number);
    const body = text
      .replaceAll('patient-1', `patient-${number}`)
      .replace(/"hookInstance":"[^"]+"/, `"hookInstance":"${instance}"`);
    return { ...(await send(`${url}${ORDER_PATH}`, body, agent)), hookInstance: instance };
  });
}

/** Overrides cards, each another one, without pause. */
export function feedbackTraffic(url: string, clients: number): Traffic<Exchange & { readonly card: string }> {
  return keepSending(clients, async (number, agent) => {
    const card = hookInstance(number);
    const item = { card, outcome: 'overridden', outcomeTimestamp: '2026-11-24T10:00:00Z' };
    const body = JSON.stringify({ feedback: [item] });
    return { ...(await send(`${url}${ORDER_PATH}/feedback`, body, agent)), card };
  });
}

function keepSending<Sent extends Exchange>(
  clients: number,
  sendOne: (number: number, agent: Agent) => Promise<Sent>,
): Traffic<Sent> {
  const agent = new Agent({ keepAlive: true, maxSockets: clients });
  const exchanges: Sent[] = [];
  let stopped = false;
  let next = 0;
  const client = async (): Promise<void> => {
    while (!stopped) {
      const exchange = await sendOne((next += 1), agent);
      exchanges.push(exchange);
      // Nobody listens any more: asking on and on would only keep the machine busy.
      if (exchange.status === undefined) await new Promise((resolve) => setTimeout(resolve, 20));
    }
  };
  const working = Promise.all(Array.from({ length: clients }, client));
  return {
    exchanges,
    stop: async () => {
      stopped = true;
      await working;
      agent.destroy();
    },
  };
}

function send(url: string, body: string, agent: Agent): Promise<Exchange> {
  return new Promise((resolve) => {
    const headers = { 'Content-Type': 'application/json', 'Content-Length': Buffer.byteLength(body) };
    const sending = request(url, { method: 'POST', agent, headers }, (response) => {
      let text = '';
      response.setEncoding('utf8');
      response.on('data', (chunk: string) => {
        text += chunk;
      });
      response.on('end', () => resolve({ status: response.statusCode, text }));
      response.on('error', () => resolve({ status: undefined, text }));
    });
    sending.on('error', () => resolve({ status: undefined, text: '' }));
    sending.end(body);
  });
}

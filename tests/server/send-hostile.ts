import { Agent, request } from 'node:http';
import type { HostileRequest } from './hostile-requests.js';

export interface HostileReply {
  readonly status: number;
  readonly headers: Readonly<Record<string, string | readonly string[] | undefined>>;
  readonly text: string;
}

export interface Sender {
  readonly send: (hostile: HostileRequest) => Promise<HostileReply>;
  readonly close: () => void;
}

/** Sends requests as they stand to a service of this machine; a library for well-meaning clients would mend them first. */
export function newSender(port: number, prefix = ''): Sender {
  const agent = new Agent({ keepAlive: true, maxSockets: 8 });
  return {
    send: ({ method, path, headers, body }) =>
      new Promise((resolve, reject) => {
        const bytes = Buffer.from(body);
        const length = bytes.length > 0 ? { 'content-length': String(bytes.length) } : {};
        const options = {
          host: '127.0.0.1',
          port,
          agent,
          method,
          path: `${prefix}${path}`,
          headers: { ...headers, ...length },
        };
        const sent = request(options, (response) => {
          const chunks: Buffer[] = [];
          response.on('data', (chunk: Buffer) => chunks.push(chunk));
          response.on('end', () =>
            resolve({
              status: response.statusCode ?? 0,
              headers: response.headers,
              text: Buffer.concat(chunks).toString('utf8'),
            }),
          );
          response.on('error', reject);
        });
        sent.on('error', reject);
        sent.end(bytes);
      }),
    close: () => agent.destroy(),
  };
}

/** What an answer must never be, whatever was asked; undefined when it is as it should be. */
export function wrongAnswer(
  { method, path }: HostileRequest,
  { status, headers, text }: HostileReply,
): string | undefined {
  // Turned away while too much is going on is an answer; any other fault of the service is not.
  if (status >= 500 && !(status === 503 && headers['retry-after'] !== undefined)) return `status ${status}`;
  if (status < 200) return `status ${status}`;
  // A card may well say "at 40 deg (…)"; a stack looks like that only where something went wrong.
  if (/node_modules|\.[jt]s:\d+/.test(text) || (status >= 400 && /\bat [\w.]+ \(/.test(text)))
    return 'our insides in the answer';
  if (status === 401 && text !== '') return 'a body with 401';
  const isJson = /json/.test(String(headers['content-type'] ?? ''));
  if (method === 'HEAD' || text === '') return undefined;
  // Pages for people are not there in the words of people.
  if (path.startsWith('/evidence')) return undefined;
  if (status >= 400 && !isJson) return `no OperationOutcome with ${status}`;
  if (!isJson) return undefined;
  const content = parsed(text);
  if (content === undefined) return 'broken JSON';
  return status < 400 || content['resourceType'] === 'OperationOutcome'
    ? undefined
    : `no OperationOutcome with ${status}`;
}

function parsed(text: string): Readonly<Record<string, unknown>> | undefined {
  try {
    return JSON.parse(text) as Readonly<Record<string, unknown>>;
  } catch {
    return undefined;
  }
}

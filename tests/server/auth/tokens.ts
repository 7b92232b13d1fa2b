import { Writable } from 'node:stream';
import type { Express } from 'express';
import { pino } from 'pino';
import type { Logger } from 'pino';
import request from 'supertest';
import { testApp } from '../test-service.js';
import type { AppSettings, Reply } from '../test-service.js';
import { client, PUBLIC_URL } from './signing.js';

export * from './signing.js';

/** The service in production, with one client. */
export function productionApp(settings: AppSettings = {}): Express {
  return testApp({ mode: 'production', publicUrl: PUBLIC_URL, clients: [client()], ...settings });
}

export interface Asked {
  readonly path?: string;
  readonly method?: 'get' | 'post' | 'put' | 'options' | 'head';
  readonly body?: unknown;
}

/** The prefix of the public URL is part of every path. */
export const PREFIX = '/kotyle';

/** Calls with an Authorization header as given, or none. */
export async function ask(
  app: Express,
  authorization: string | readonly string[] | undefined,
  { path = '/cds-services/hip-stability-order', method = 'post', body = {} }: Asked = {},
): Promise<Reply> {
  const pending = request(app)[method](`${PREFIX}${path}`);
  if (authorization !== undefined) pending.set('Authorization', authorization as string);
  return method === 'post' ? await pending.send(body as object) : await pending;
}

export interface Capture {
  readonly log: Logger;
  readonly lines: readonly string[];
  /** What the log says of refused tokens. */
  readonly refusals: () => readonly Readonly<Record<string, unknown>>[];
}

export function capture(): Capture {
  const lines: string[] = [];
  const stream = new Writable({
    write(chunk: Buffer, _encoding, done) {
      lines.push(chunk.toString('utf8'));
      done();
    },
  });
  const refusals = (): readonly Readonly<Record<string, unknown>>[] =>
    lines
      .map((line) => JSON.parse(line) as Readonly<Record<string, unknown>>)
      .filter(({ msg }) => msg === 'token refused');
  return { log: pino({ level: 'trace' }, stream), lines, refusals };
}

/** Insists that nothing of a token is in the log: not the whole, not a part, not its decoded payload. */
export function leaksOf(lines: readonly string[], sent: string): readonly string[] {
  const text = lines.join('');
  const parts = sent.split('.').filter((part) => part.length > 8);
  return [sent, ...parts].filter((part) => text.includes(part));
}

import { pino } from 'pino';
import { post, testApp } from '../../server/test-service.js';
import type { AppSettings, Reply } from '../../server/test-service.js';

type Line = Readonly<Record<string, unknown>>;

/** Sends one call to a service of its own and hands out what it logged of the call. */
export async function loggedCall(
  path: string,
  body: unknown,
  settings: AppSettings = {},
): Promise<{ readonly reply: Reply; readonly lines: readonly Line[]; readonly leniencies: unknown }> {
  const texts: string[] = [];
  const log = pino({ level: 'trace' }, { write: (line: string) => void texts.push(line) });
  const reply = await post(testApp({ ...settings, log }), path, body);
  const lines = texts.map((text) => JSON.parse(text) as Line);
  return { reply, lines, leniencies: lines.find(({ msg }) => msg === 'call')?.['leniencies'] };
}

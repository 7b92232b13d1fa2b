import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { join } from 'node:path';
import { START_OPTIONS } from '../start-options.js';

/** The service as a process of its own, and everything it has written to its log so far. */
export interface ServiceProcess {
  readonly child: ChildProcess;
  readonly url: string;
  readonly operationsUrl: string;
  readonly log: () => string;
  /** Its exit code, or the signal that ended it. */
  readonly ended: Promise<number | string>;
}

const KEYS = {
  KOTYLE_PSEUDONYM_KEY: Buffer.alloc(32, 7).toString('base64'),
  KOTYLE_CONTENT_KEY: Buffer.alloc(32, 8).toString('base64'),
};

/** Runs it with these settings and no others, on free ports; it may end before it serves. */
function run(
  bundled: string,
  settings: Readonly<Record<string, string>>,
): Omit<ServiceProcess, 'url' | 'operationsUrl'> {
  const env = {
    PATH: process.env['PATH'] ?? '',
    KOTYLE_PORT: '0',
    KOTYLE_OPERATIONS_PORT: '0',
    KOTYLE_STORE: ':memory:',
    // How busy the machine is must not decide what a test sees.
    KOTYLE_BUSY_MS: '60000',
    ...KEYS,
    ...settings,
  };
  const child = spawn(process.execPath, [...START_OPTIONS, join(bundled, 'serve.js')], {
    env,
    stdio: ['ignore', 'ignore', 'pipe'],
  });
  let written = '';
  child.stderr.on('data', (chunk: Buffer) => {
    written += chunk.toString('utf8');
  });
  const ended = once(child, 'close').then(([code, signal]) => (code ?? signal) as number | string);
  return { child, ended, log: () => written };
}

/** What it says, and how it ends, when it cannot start. */
export async function startAndFail(
  bundled: string,
  settings: Readonly<Record<string, string>>,
): Promise<{ readonly code: number | string; readonly said: string }> {
  const running = run(bundled, settings);
  const code = await running.ended;
  return { code, said: running.log() };
}

/** Starts it, and resolves when it serves. */
export async function startProcess(
  bundled: string,
  settings: Readonly<Record<string, string>> = {},
): Promise<ServiceProcess> {
  const running = run(bundled, settings);
  for (;;) {
    const said = running.log();
    const url = /"url":"(http:[^"]+)"/.exec(said)?.[1];
    const operationsUrl = /"operationsUrl":"(http:[^"]+)"/.exec(said)?.[1];
    if (url !== undefined && operationsUrl !== undefined) return { ...running, url, operationsUrl };
    if (running.child.exitCode !== null) throw new Error(`the service did not start: ${said}`);
    await pause(5);
  }
}

export function pause(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms));
}

/** The status of a GET; undefined when nobody answered. */
export async function statusOf(url: string): Promise<number | undefined> {
  return await fetch(url).then(
    ({ status }) => status,
    () => undefined,
  );
}

/** Asks until the answer is the one waited for. */
export async function untilStatus(url: string, wanted: number | undefined): Promise<void> {
  for (let tries = 0; tries < 500; tries += 1) {
    if ((await statusOf(url)) === wanted) return;
    await pause(10);
  }
  throw new Error(`${url} never answered ${wanted}`);
}

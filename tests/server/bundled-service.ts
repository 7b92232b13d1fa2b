import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { mkdirSync, mkdtempSync } from 'node:fs';
import { request } from 'node:http';
import type { Agent } from 'node:http';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'vite';
import { START_OPTIONS } from './start-options.js';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));

/** A process that serves. */
export interface Running {
  readonly child: ChildProcess;
  readonly url: string;
}

/** The service bundled into few files, two folders below the rules as always: it starts several times as fast. */
export async function bundleService(): Promise<string> {
  const dist = join(ROOT, 'dist');
  mkdirSync(dist, { recursive: true });
  const outDir = mkdtempSync(join(dist, 'bundled-'));
  await build({
    root: ROOT,
    logLevel: 'silent',
    configFile: false,
    ssr: { noExternal: true, external: ['better-sqlite3', 'pg'] },
    build: {
      ssr: true,
      outDir,
      rolldownOptions: {
        // The thread of the store is a file beside the others, where they look for it.
        input: { serve: 'src/cli/serve.ts', 'store-thread': 'src/store/store-thread.ts' },
        output: { entryFileNames: '[name].js', chunkFileNames: '[name].js' },
      },
    },
  });
  return outDir;
}

/** Starts the bundled service on a store, with keys that are no secret, and waits until it serves. */
export async function startBundled(
  bundled: string,
  store: string,
  environment: Readonly<Record<string, string>> = {},
): Promise<Running> {
  const key = Buffer.alloc(32, 7).toString('base64');
  const child = spawn(process.execPath, [...START_OPTIONS, join(bundled, 'serve.js')], {
    env: {
      PATH: process.env['PATH'] ?? '',
      KOTYLE_PORT: '0',
      KOTYLE_STORE: store,
      KOTYLE_PSEUDONYM_KEY: key,
      KOTYLE_CONTENT_KEY: key,
      ...environment,
    },
    stdio: ['ignore', 'ignore', 'pipe'],
  });
  let printed = '';
  child.stderr.on('data', (chunk: Buffer) => {
    // Only the beginning is looked at.
    if (printed.length < 100_000) printed += chunk.toString('utf8');
  });
  for (;;) {
    const url = /"url":"(http:[^"]+)"/.exec(printed)?.[1];
    if (url !== undefined) return { child, url };
    if (child.exitCode !== null) throw new Error(`the service did not start: ${printed}`);
    await new Promise((resolve) => setTimeout(resolve, 5));
  }
}

/** Sends a body and answers with the status; undefined when no answer came back. */
export function statusOf(url: string, body: string, agent: Agent): Promise<number | undefined> {
  return new Promise((resolve) => {
    const sending = request(
      url,
      { method: 'POST', agent, headers: { 'Content-Type': 'application/json' } },
      (response) => {
        response.resume();
        response.on('end', () => resolve(response.statusCode));
        response.on('error', () => resolve(undefined));
      },
    );
    sending.on('error', () => resolve(undefined));
    sending.end(body);
  });
}

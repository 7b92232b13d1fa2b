import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { START_OPTIONS } from '../server/start-options.js';

/** A process of its own on a port of this machine. */
export interface Running {
  readonly origin: string;
  readonly stop: () => void;
}

/** A new SQLite file on the disk. */
export function onDisk(): string {
  return join(mkdtempSync(join(tmpdir(), 'kotyle-bench-')), 'kotyle.sqlite');
}

/** The service as `npm start` runs it, from dist, without log lines. */
export async function startService(settings: Readonly<Record<string, string>>): Promise<Running> {
  const port = await freePort();
  const path = fileURLToPath(new URL('../../dist/cli/serve.js', import.meta.url));
  const env = {
    ...process.env,
    KOTYLE_PORT: String(port),
    KOTYLE_LOG_LEVEL: 'silent',
    // What is measured is how fast calls are answered, not when they are turned away.
    KOTYLE_BUSY_MS: '60000',
    ...settings,
  };
  const running = asRunning(
    port,
    spawn(process.execPath, [...START_OPTIONS, path], { stdio: 'inherit', env }),
  );
  for (let tries = 0; tries < 200; tries += 1) {
    const healthy = await fetch(`${running.origin}/health`).then(
      ({ ok }) => ok,
      () => false,
    );
    if (healthy) return running;
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  running.stop();
  throw new Error('the service did not start');
}

/** A script of this folder that prints the port it listens on; with the options of the service it stands beside. */
export async function startScript(name: string, ...given: readonly string[]): Promise<Running> {
  const path = fileURLToPath(new URL(`./${name}.ts`, import.meta.url));
  const child = spawn(process.execPath, [...START_OPTIONS, '--import', 'tsx', path, ...given], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const [chunk] = (await once(child.stdout, 'data')) as [Buffer];
  return asRunning(Number(chunk.toString().trim()), child);
}

function asRunning(port: number, child: ChildProcess): Running {
  return { origin: `http://127.0.0.1:${port}`, stop: () => child.kill() };
}

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const address = server.address();
  server.close();
  return typeof address === 'object' && address ? address.port : 0;
}

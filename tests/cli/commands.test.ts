import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { rulebook } from '../advice/patients.js';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));

interface Running {
  readonly child: ChildProcess;
  /** Everything printed so far, on both streams. */
  readonly printed: () => string;
}

function start(script: string, environment: Readonly<Record<string, string>> = {}): Running {
  const child = spawn(process.execPath, ['--import', './tests/from-source.js', `src/cli/${script}.ts`], {
    cwd: ROOT,
    env: { PATH: process.env['PATH'] ?? '', KOTYLE_PORT: '0', KOTYLE_STORE: ':memory:', ...environment },
  });
  let text = '';
  for (const stream of [child.stdout, child.stderr]) {
    stream.on('data', (chunk: Buffer) => {
      text += chunk.toString('utf8');
    });
  }
  return { child, printed: () => text };
}

async function until(running: Running, pattern: RegExp): Promise<RegExpExecArray> {
  for (;;) {
    const match = pattern.exec(running.printed());
    if (match) return match;
    if (running.child.exitCode !== null) throw new Error(`ended early: ${running.printed()}`);
    await new Promise((resolve) => setTimeout(resolve, 25));
  }
}

/** Asks the process to end, and answers with its exit code; a process that will not is killed, and answers null. */
async function stop({ child }: Running, signal: 'SIGINT' | 'SIGTERM'): Promise<number | null> {
  if (child.exitCode !== null) return child.exitCode;
  const ended = once(child, 'exit') as Promise<[number | null]>;
  child.kill(signal);
  const patience = setTimeout(() => child.kill('SIGKILL'), 5000);
  const [code] = await ended;
  clearTimeout(patience);
  return code;
}

describe('the demo', () => {
  it('shows a booking and a signing with their cards, says what it is, and ends when told', async () => {
    const running = start('demo');
    try {
      await until(running, /Serving on http:\/\/127\.0\.0\.1:\d+\/cds-services/);
      const text = running.printed();
      // Integration decisions section 4: the shipped rulebook is draft and experimental, and says so.
      expect(text).toContain(`rulebook ${rulebook.about.version}: draft, experimental`);
      // The expectation written down for this test patient: one card at booking, three at signing.
      expect(text).toMatch(/sent appointment-book[\s\S]*< 1 card in/);
      expect(text).toMatch(/sent order-sign[\s\S]*< 3 cards in/);
      expect(text).toContain('[warning] Left hip, planned: cup 60°');
      // Clinical decisions section 1: acknowledged stays quiet, for that patient, until its facts change.
      expect(text).toMatch(
        /answered head-neck-ratio-low-with-trigger with "seen, plan kept"; the same order signed again: 2 cards, that one quiet/,
      );
      expect(text).not.toMatch(/undefined|NaN|\*\*/);
    } finally {
      expect(await stop(running, 'SIGINT')).toBe(0);
    }
  });
});

describe('the service', () => {
  it('says at start where it serves and that callers are not authenticated, and ends when told', async () => {
    const running = start('serve');
    try {
      const [, url] = await until(running, /"url":"(http:[^"]+)"/);
      // Integration decisions section 5: development mode binds to this machine and says so at start.
      expect(running.printed()).toMatch(/development mode, callers are not authenticated/);
      expect(url).toMatch(/^http:\/\/127\.0\.0\.1:\d+$/);
      expect((await fetch(`${url ?? ''}/health`)).status).toBe(200);
    } finally {
      expect(await stop(running, 'SIGTERM')).toBe(0);
    }
  });

  it('does not start with a wrong setting, and names it', async () => {
    const running = start('serve', { KOTYLE_PORT: 'abc' });
    const [code] = (await once(running.child, 'exit')) as [number | null];
    // Style, configuration: read once, wrong settings named.
    expect(code).not.toBe(0);
    expect(running.printed()).toContain('KOTYLE_PORT');
  });
});

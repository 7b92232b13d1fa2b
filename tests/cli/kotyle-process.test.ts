import { spawn } from 'node:child_process';
import type { ChildProcessWithoutNullStreams } from 'node:child_process';
import { once } from 'node:events';
import { existsSync, mkdtempSync, readFileSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, describe, expect, it } from 'vitest';
import { PATIENTS, testPatient } from '../advice/patients.js';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'kotyle-process-'));
afterAll(() => {
  rmSync(folder, { recursive: true });
});

interface Running {
  readonly child: ChildProcessWithoutNullStreams;
  readonly out: () => string;
  readonly err: () => string;
  /** The exit code, or the signal it ended by. */
  readonly ended: Promise<number | string | null>;
}

function start(...args: readonly string[]): Running {
  const child = spawn(
    process.execPath,
    ['--import', './tests/from-source.js', 'src/cli/kotyle.ts', ...args],
    {
      cwd: ROOT,
      env: { PATH: process.env['PATH'] ?? '', KOTYLE_PORT: '0', KOTYLE_STORE: ':memory:' },
    },
  );
  let [out, err] = ['', ''];
  child.stdout.on('data', (chunk: Buffer) => {
    out += chunk.toString('utf8');
  });
  child.stderr.on('data', (chunk: Buffer) => {
    err += chunk.toString('utf8');
  });
  const ended = once(child, 'close').then(([code, signal]) => (code ?? signal) as number | string | null);
  return { child, out: () => out, err: () => err, ended };
}

async function until(read: () => string, pattern: RegExp): Promise<void> {
  while (!pattern.test(read())) await new Promise((resolve) => setTimeout(resolve, 25));
}

describe('the command as a process', () => {
  it('reads a Bundle from a pipe, prints one document and nothing else, and ends with 0', async () => {
    const running = start('evaluate', '-', '--hook', 'order', '--json');
    running.child.stdin.end(readFileSync(join(PATIENTS, 'demo-parkinson-steep-cup', 'bundle.json')));
    expect(await running.ended).toBe(0);
    expect(JSON.parse(running.out())).toMatchObject({ entry: 'order-sign' });
    expect(running.err()).toBe('');
  }, 20_000);

  it('ends with 2 on an empty pipe', async () => {
    const empty = start('evaluate', '-');
    empty.child.stdin.end();
    expect(await empty.ended).toBe(2);
    expect(empty.err()).toMatch(/standard input: expected a FHIR Bundle, found nothing/);
  }, 20_000);

  it('stops at Ctrl-C with 130, says so, and leaves nothing half-written', async () => {
    const out = join(folder, 'cohort.html');
    const running = start(
      'evaluate',
      '--cohort',
      'synthetic:record-like:1000000:1',
      '--format',
      'html',
      '--out',
      out,
    );
    await until(running.err, /\d+ of 1000000 patients/);
    running.child.kill('SIGINT');
    expect(await running.ended).toBe(130);
    expect(running.err()).toMatch(/kotyle: stopped; nothing was left half-written/);
    expect(running.out()).toBe('');
    expect(existsSync(out)).toBe(false);
    expect(readdirSync(folder)).toEqual([]);
  }, 20_000);

  it('says when the disk is full, on standard output and in a file, and leaves nothing half-written', async () => {
    const bundle = join(PATIENTS, 'demo-parkinson-steep-cup', 'bundle.json');
    // A limit on the size of files stands for a disk that fills up while a file is being written.
    const limited =
      'ulimit -f 20; "$0" --import tsx src/cli/kotyle.ts evaluate "$1" --format html --out "$2"; echo "$?"; exec "$0" --import tsx src/cli/kotyle.ts evaluate "$1" >/dev/full';
    const child = spawn('sh', ['-c', limited, process.execPath, bundle, join(folder, 'page.html')], {
      cwd: ROOT,
    });
    let [out, err] = ['', ''];
    child.stdout.on('data', (chunk: Buffer) => (out += chunk.toString('utf8')));
    child.stderr.on('data', (chunk: Buffer) => (err += chunk.toString('utf8')));
    const [code] = (await once(child, 'close')) as [number | null];
    expect(out).toBe('2\n');
    expect(err).toMatch(
      /could not write \S+page\.html: the file would be larger than is allowed; nothing was left/,
    );
    expect(err).toMatch(/could not write standard output: the disk is full/);
    expect(code).toBe(2);
    expect(readdirSync(folder)).toEqual([]);
  }, 20_000);

  it('ends quietly when nobody reads on', async () => {
    const running = start(
      'evaluate',
      join(PATIENTS, testPatient('staged-bilateral').name, 'bundle.json'),
      '--json',
    );
    running.child.stdout.destroy();
    expect(await running.ended).not.toBe('SIGPIPE');
    expect(running.err()).toBe('');
  }, 20_000);

  it('serves until told to end', async () => {
    const running = start('serve');
    await until(running.err, /serving on http:\/\/127\.0\.0\.1:\d+\/cds-services/);
    const [, url = ''] = /serving on (http:\S+)\/cds-services/.exec(running.err()) ?? [];
    expect((await fetch(`${url}/cds-services`)).status).toBe(200);
    running.child.kill('SIGINT');
    expect(await running.ended).toBe(0);
  }, 20_000);
});

import { spawn } from 'node:child_process';
import { once } from 'node:events';
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  readdirSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { afterAll, describe, expect, it } from 'vitest';
import type { Io } from '../../../src/cli/io.js';
import { runCommand } from '../../../src/cli/program.js';
import { synthesizeCommand } from '../../../src/cli/verbs/synthesize.js';
import type { JsonObject } from '../../../src/fhir/json.js';
import { synthesizeHips } from '../../../src/workbench/synthesize/synthesize-hips.js';

const ROOT = fileURLToPath(new URL('../../../', import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'kotyle-synthesize-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

interface Told {
  readonly out: string;
  readonly err: string;
  readonly code: number;
}

async function call(...args: readonly string[]): Promise<Told> {
  let [out, err, code] = ['', '', 0];
  const io: Io = {
    out: (text) => void (out += text),
    err: (text) => void (err += text),
    isTerminal: false,
    setExitCode: (told) => void (code = told),
  };
  await runCommand(['synthesize', ...args], io, [synthesizeCommand]);
  return { out, err, code };
}

const bundles = (text: string): readonly JsonObject[] =>
  text
    .trimEnd()
    .split('\n')
    .map((line) => JSON.parse(line) as JsonObject);
const at = (name: string): string => join(folder, name);

describe('kotyle synthesize', () => {
  it('prints one Bundle a line, the same as the generator gives', async () => {
    const { out, code } = await call('--count', '25', '--seed', '9', '--profile', 'fully-planned');
    expect(code).toBe(0);
    const expected = [...synthesizeHips({ seed: 9, count: 25, profile: 'fully-planned' })];
    expect(bundles(out)).toEqual(expected.map(({ bundle }) => bundle));
  });

  it('writes the same bytes to a file, and two parts of a run make the whole', async () => {
    const { out } = await call('--count', '30');
    const whole = await call('--count', '30', '--out', at('whole.ndjson'));
    expect(whole).toMatchObject({ out: '', code: 0 });
    expect(whole.err).toContain('wrote 30 hips');
    expect(readFileSync(at('whole.ndjson'), 'utf8')).toBe(out);
    const first = await call('--count', '11');
    const second = await call('--count', '19', '--from', '11');
    expect(first.out + second.out).toBe(out);
  });

  it('writes FHIR Bulk NDJSON: one file for each type of resource, one resource a line, none lost', async () => {
    const told = await call('--count', '40', '--format', 'ndjson', '--out', at('bulk'), '--json');
    expect(told.code).toBe(0);
    const resources = [...synthesizeHips({ seed: 1, count: 40, profile: 'record-like' })].flatMap(
      ({ bundle }) =>
        (bundle['entry'] as readonly { readonly resource: JsonObject }[]).map(({ resource }) => resource),
    );
    const types = [...new Set(resources.map(({ resourceType }) => String(resourceType)))];
    expect(readdirSync(at('bulk')).sort()).toEqual(types.map((type) => `${type}.ndjson`).sort());
    for (const type of types)
      expect(bundles(readFileSync(join(at('bulk'), `${type}.ndjson`), 'utf8'))).toEqual(
        resources.filter(({ resourceType }) => resourceType === type),
      );
    const document = JSON.parse(told.out) as {
      readonly count: number;
      readonly files: readonly { readonly path: string; readonly lines: number }[];
    };
    expect(document).toMatchObject({ seed: 1, from: 0, count: 40, profile: 'record-like', format: 'ndjson' });
    expect(document.files.map(({ path }) => existsSync(path))).toEqual(types.map(() => true));
    expect(document.files.reduce((sum, { lines }) => sum + lines, 0)).toBe(resources.length);
  });

  it('fills an empty folder and refuses one that holds something', async () => {
    mkdirSync(at('empty'));
    expect((await call('--count', '3', '--format', 'ndjson', '--out', at('empty'))).code).toBe(0);
    const again = await call('--count', '3', '--format', 'ndjson', '--out', at('empty'));
    expect(again.code).toBe(2);
    expect(again.err).toContain(`expected a new or empty folder, found`);
    expect(again.err).toContain(at('empty'));
  });

  it('overwrites a file only when everything is written', async () => {
    writeFileSync(at('kept.ndjson'), 'before\n');
    const refused = await call('--count', '0', '--out', at('kept.ndjson'));
    expect(refused.code).toBe(2);
    expect(readFileSync(at('kept.ndjson'), 'utf8')).toBe('before\n');
    expect((await call('--count', '2', '--out', at('kept.ndjson'))).code).toBe(0);
    expect(bundles(readFileSync(at('kept.ndjson'), 'utf8'))).toHaveLength(2);
  });

  it.each([
    [['--count', 'many'], 'expected a whole number from 1, found many'],
    [['--count', '1.5'], 'expected a whole number from 1, found 1.5'],
    [['--seed', '-3'], 'expected a whole number from 0, found -3'],
    [['--seed', '99999999999999999999'], 'expected a whole number from 0'],
    [['--from', '9007199254740991'], 'expected numbers up to 9007199254740991, found more'],
    [['--profile', 'everything'], 'record-like, fully-planned'],
    [['--format', 'xml'], 'bundles, ndjson'],
    [['--on', 'tomorrow'], 'expected a day such as 2026-11-24, found tomorrow'],
    [['--on', '2026-02-30'], 'expected a day such as 2026-11-24, found 2026-02-30'],
    [['--format', 'ndjson'], 'expected --out with a folder, found none'],
    [['--json'], 'expected --out beside it, found none'],
    [['--out', '/nowhere/hips.ndjson'], 'could not write /nowhere/hips.ndjson: its folder does not exist'],
    [['--format', 'ndjson', '--out', '/nowhere/bulk'], 'its folder does not exist'],
    [['--out', tmpdir()], `expected the name of a file to write, found a folder at ${tmpdir()}`],
    [['--format', 'ndjson', '--out', '/dev/null'], 'found a file at /dev/null'],
  ])('refuses %j and says what was expected', async (args, message) => {
    const { out, err, code } = await call(...args);
    expect(err).toContain(message);
    expect({ out, code }).toEqual({ out: '', code: 2 });
  });

  it('says that the disk is full, with exit code 2', async () => {
    // Truth: the device the system offers for this: every write to it ends in ENOSPC.
    const { err, code } = await call('--count', '5', '--out', '/dev/full');
    expect(err).toContain('could not write /dev/full: the disk is full');
    expect(code).toBe(2);
  });

  it('tells on a full disk in the middle of a long run and ends there', async () => {
    const { err, code } = await call('--count', '100000000', '--out', '/dev/full');
    expect(err).toContain('the disk is full');
    expect(code).toBe(2);
  });

  it.each([
    ['bundles', 'stopped.ndjson'],
    ['ndjson', 'stopped-bulk'],
  ])('stopped by Ctrl-C ends with 130 and leaves nothing half-written (%s)', async (format, name) => {
    const args = ['synthesize', '--count', '100000000', '--format', format, '--out', at(name)];
    const child = spawn(process.execPath, ['--import', 'tsx', join(ROOT, 'src/cli/kotyle.ts'), ...args], {
      cwd: ROOT,
      stdio: ['ignore', 'ignore', 'pipe'],
    });
    const left = (): readonly string[] => readdirSync(folder).filter((file) => file.includes(name));
    let told = '';
    child.stderr.on('data', (text) => (told += String(text)));
    const ended = once(child, 'exit');
    for (let wait = 0; wait < 200 && left().length === 0; wait += 1) await setTimeout(100);
    expect(left().length, told).toBeGreaterThan(0);
    child.kill('SIGINT');
    expect(await ended).toEqual([130, null]);
    expect(told).toContain('nothing was left half-written');
    expect(left()).toEqual([]);
  });

  it('draws for another day of booking the same hips, dated against it', async () => {
    const [here = {}] = bundles((await call('--count', '1')).out);
    const [there = {}] = bundles((await call('--count', '1', '--on', '2030-05-01')).out);
    expect(JSON.stringify(here)).toContain('"authoredOn":"2026-11-03"');
    expect(JSON.stringify(there)).toContain('"authoredOn":"2030-04-10"');
    expect(JSON.stringify(there).length).toBe(JSON.stringify(here).length);
  });

  it('explains itself with examples', async () => {
    const { out, code } = await call('--help');
    expect(code).toBe(0);
    for (const word of ['--count', '--seed', '--profile', '--format', '--out', 'Examples'])
      expect(out).toContain(word);
  });
});

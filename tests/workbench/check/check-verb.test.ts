import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { ExitCode } from '../../../src/cli/io.js';
import { runCommand } from '../../../src/cli/program.js';
import { checkCommand } from '../../../src/cli/verbs/check.js';
import { RECORDS, RULES, lineWith } from './planted.js';

interface Called {
  readonly out: string;
  readonly err: string;
  readonly code: ExitCode;
}

async function call(...args: readonly string[]): Promise<Called> {
  let [out, err, code]: [string, string, ExitCode] = ['', '', 0];
  const io = {
    out: (text: string) => void (out += text),
    err: (text: string) => void (err += text),
    isTerminal: false,
    setExitCode: (to: ExitCode) => void (code = to),
  };
  await runCommand(['check', ...args], io, [checkCommand]);
  return { out, err, code };
}

const CITATION = 'citations/sariali-2009.json';
const SITE = fileURLToPath(new URL('../../../fixtures/sites/north-campus/site.json', import.meta.url));
let folder = '';

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'kotyle-check-'));
  mkdirSync(join(folder, 'empty'));
});
afterAll(() => {
  rmSync(folder, { recursive: true });
});

/** A copy of the shipped rules in which one file is another. */
function copyWith(name: string, file: string, change: (text: string) => string): string {
  const root = join(folder, name);
  cpSync(RULES, root, { recursive: true });
  const path = join(root, file);
  writeFileSync(path, change(readFileSync(path, 'utf8')));
  return root;
}

describe('kotyle check', () => {
  it('tells a finding with path and line, and ends with 1', async () => {
    const rules = copyWith('doi', CITATION, (text) => text.replace('17453670902988378', '17453670902988379'));
    const { out, err, code } = await call('--rules', rules, '--states', '0');
    const line = lineWith(readFileSync(join(rules, CITATION), 'utf8'), '"doi"');
    expect(out).toContain(
      `${rules}/${CITATION}:${line}  citations at doi: expected 10.3109/17453670902988378, as in the evidence, found 10.3109/17453670902988379`,
    );
    expect(out).toMatch(/\d findings? in \d files?(?:, \d notes?)?\n/);
    expect(err).toBe('');
    expect(code).toBe(1);
  });

  it('prints one JSON document and nothing else', async () => {
    const { out, err, code } = await call('--json', '--states', '40', '--evidence', RECORDS);
    const told = JSON.parse(out) as {
      readonly clean: boolean;
      readonly findings: readonly { readonly check: string; readonly file: string; readonly line: number }[];
      readonly firedInSampledStates: Readonly<Record<string, number>>;
    };
    expect(code).toBe(told.clean ? 0 : 1);
    // What stands open in a checkout is at most a rule without a test patient, or two that disagree.
    expect(told.findings.filter(({ check }) => check !== 'patients' && check !== 'opposing')).toEqual([]);
    expect(Object.keys(told.firedInSampledStates).length).toBeGreaterThan(20);
    // Work that takes long says how far it is; how long it takes is the machine's affair.
    expect(err).toMatch(/^(?:\d+ of 40 sampled hips looked at\n)*$/);
  });

  it('ends with 2 at broken JSON, telling the line', async () => {
    const rules = copyWith('broken', CITATION, (text) => text.replace('"year": 2009,', '"year": 2009'));
    const { out, err, code } = await call('--rules', rules);
    const line = lineWith(readFileSync(join(rules, CITATION), 'utf8'), '"volume"');
    expect(out).toContain(`${rules}/${CITATION}:${line}  syntax: expected `);
    expect(out).toContain('not checked: reach, a file is no JSON');
    expect(err).toMatch(/no JSON; nothing else was checked\ntry: /);
    expect(code).toBe(2);
  });

  it.each([
    ['a folder that is not there', () => ['--rules', join(folder, 'nowhere')], /found nothing at .*nowhere/],
    ['an empty folder', () => ['--rules', join(folder, 'empty')], /rulebook\.json, found none in .*empty/],
    ['a file for a folder', () => ['--rules', RECORDS], /found a file at .*records\.json/],
    ['evidence that is none', () => ['--evidence', join(RULES, 'rulebook.json')], /rulebook\.json/],
    ['evidence that is not there', () => ['--evidence', join(folder, 'x.json')], /x\.json/],
    ['test patients that are none', () => ['--patients', join(folder, 'empty')], /test patient.*empty/],
    [
      'a site file that is not there',
      () => ['--states', '0', '--site', join(folder, 'site.json')],
      /site\.json/,
    ],
    ['a number that is none', () => ['--states', 'many'], /--states: expected a whole number .*found many/],
    ['an option nobody knows', () => ['--loud'], /--loud/],
  ])('ends with 2 at %s, and says so on standard error alone', async (_what, args, message) => {
    const { out, err, code } = await call(...args());
    expect(err).toMatch(message);
    expect(out).toBe('');
    expect(code).toBe(2);
  });

  it('checks a site file beside the rules, with its lines', async () => {
    const clean = await call('--states', '0', '--site', SITE, '--on', '2026-11-24');
    // No fault, and worth knowing: nobody has signed, one limit is the site's own.
    const told = clean.out.split('\n').filter((line) => / site( at|:)/.test(line));
    expect(told).toEqual([
      expect.stringMatching(
        /^ {2}\S+site\.json:\d+ {2}site at approvals: expected an approval of sha256-[0-9a-f]{64}, .*, found none$/,
      ),
      expect.stringMatching(/: expected 50 deg in the rulebook, found 48 deg here$/),
    ]);
    expect(clean.code).toBe(0);
    const never = await call('--site', SITE, '--on', '2027-02-30');
    expect([never.err, never.code]).toEqual([expect.stringContaining('--on: expected a day'), 2]);
    const path = join(folder, 'planted-site.json');
    const text = `${JSON.stringify({ id: 'planted', version: '1', sources: { recorded: ['cup-colour'] } }, null, 2)}\n`;
    writeFileSync(path, text);
    const { out, code } = await call('--states', '0', '--site', path);
    expect(out).toContain(
      `planted-site.json:${lineWith(text, 'cup-colour')}  site at sources.recorded[0]: expected a measure of the rulebook, found cup-colour`,
    );
    expect(code).toBe(1);
  });

  it('explains itself', async () => {
    const { out, code } = await call('--help');
    for (const option of [
      '--rules',
      '--site',
      '--on',
      '--evidence',
      '--patients',
      '--states',
      '--seed',
      '--json',
    ])
      expect(out).toContain(option);
    expect(code).toBe(0);
  });
});

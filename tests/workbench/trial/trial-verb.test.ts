import { cpSync, mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { readTestPatients } from '../../../src/workbench/test-patients.js';
import { PATIENTS } from '../../advice/patients.js';
import { kotyle } from '../../cli/kotyle-io.js';
import { sound } from '../shipped-cases.js';

const root = mkdtempSync(join(tmpdir(), 'kotyle-trial-'));
afterAll(() => {
  rmSync(root, { recursive: true });
});

/** A folder of test patients copied from the shipped ones. */
function folderOf(name: string, ...patients: readonly string[]): string {
  const folder = join(root, name);
  mkdirSync(folder);
  for (const patient of patients) cpSync(join(PATIENTS, patient), join(folder, patient), { recursive: true });
  return folder;
}

function rewrite(file: string, change: (text: string) => string): void {
  writeFileSync(file, change(readFileSync(file, 'utf8')));
}

describe('kotyle trial', () => {
  it('ends with 0 where every test patient is kept, and tells what they do not cover', async () => {
    const folder = folderOf('kept', 'textbook-hip', 'steep-cup-large-head');
    const { out, err, code } = await kotyle(['trial', folder]);
    expect(code).toBe(0);
    expect(err).toBe('');
    expect(out).toContain('2 test patients and edge cases, 5 calls: 2 kept, 0 not');
    expect(out).toContain('abductor-loss never has the outcome "fires"');
  });

  it('ends with 1 where one is not, and shows its rule’s tree', async () => {
    const folder = folderOf('failing', 'textbook-hip', 'steep-cup-large-head');
    rewrite(join(folder, 'steep-cup-large-head', 'bundle.json'), (text) =>
      text.replace('"value": 60', '"value": 57'),
    );
    const { out, code } = await kotyle(['trial', folder]);
    expect(code).toBe(1);
    expect(out).toContain('NOT KEPT steep-cup-large-head at order-sign');
    expect(out).toContain('missing: warning cup-inclination-outside-published, left');
    expect(out).toContain('unexpected: info cup-inclination-above-classical, left');
    expect(out).toContain(
      'at when.any[0]: expected cup-inclination clearly-above 58 deg (cup-inclination-published-high) to be true, found 57 deg',
    );
    expect(out).toContain(
      'false: cup-inclination clearly-above 58 deg (cup-inclination-published-high) (steep); found 57 deg',
    );
  });

  it('prints one JSON document with --json, and writes the report with --html', async () => {
    const folder = folderOf('documents', 'textbook-hip');
    const page = join(root, 'trial.html');
    const { out, code } = await kotyle(['trial', folder, '--json', '--html', page]);
    expect(code).toBe(0);
    expect(JSON.parse(out)).toMatchObject({ kind: 'trial', patients: 1, passed: 1, failures: [] });
    expect(readFileSync(page, 'utf8')).toMatch(/<title>[^<]*1 of 1 /);
    expect(readdirSync(root).filter((name) => name.endsWith('.part'))).toEqual([]);
  });

  it('takes one test patient by its folder, and edge cases beside those of a site', async () => {
    const folder = folderOf('edged', 'textbook-hip');
    const edges = folderOf('edges');
    const cases = [{ set: { 'cup-inclination': 61 }, expect: 'fires', teaches: 'Steep.' }];
    const file = {
      rule: 'cup-inclination-outside-published',
      truth: 'clinician',
      groups: [{ about: 'x', base: 'textbook-hip', hook: 'order-sign', cases }],
    };
    writeFileSync(join(edges, 'steep.json'), JSON.stringify(file));
    const { out, code } = await kotyle(['trial', join(folder, 'textbook-hip'), '--edges', edges]);
    expect(code).toBe(0);
    expect(out).toContain('2 test patients and edge cases, 4 calls: 2 kept, 0 not');
  });

  it.each([
    [
      'a path to nothing',
      () => join(root, 'nowhere'),
      /expected a folder of test patients, found nothing at/,
    ],
    [
      'a file',
      () => join(PATIENTS, 'textbook-hip', 'bundle.json'),
      /expected a folder of test patients, found a file at/,
    ],
    ['an empty folder', () => folderOf('empty'), /expected one folder for each test patient .* found none/],
  ])('ends with 2 on %s', async (_what, folder, message) => {
    const { out, err, code } = await kotyle(['trial', folder()]);
    expect([code, out]).toEqual([2, '']);
    expect(err).toMatch(message);
  });

  it('ends with 2 on broken files, and tells all of them with their places', async () => {
    const folder = folderOf(
      'broken',
      'textbook-hip',
      'steep-cup-large-head',
      'flat-low-cup',
      'anteverted-cup',
    );
    rewrite(join(folder, 'textbook-hip', 'bundle.json'), (text) => text.slice(0, 200));
    rewrite(join(folder, 'steep-cup-large-head', 'expected.json'), (text) =>
      text.replace('"clinician"', '"hope"').replace('"left"', '"up"'),
    );
    rewrite(join(folder, 'flat-low-cup', 'bundle.json'), (text) =>
      text.replace('"entry": [', '"entry": [{ "resource": { "resourceType": "Patient", "id": "another" } },'),
    );
    rmSync(join(folder, 'anteverted-cup', 'expected.json'));
    const { err, code } = await kotyle(['trial', folder]);
    expect(code).toBe(2);
    expect(err).toMatch(/textbook-hip\/bundle\.json: broken JSON at line \d+, column \d+/);
    expect(err).toMatch(/steep-cup-large-head\/expected\.json at truth: expected one of published/);
    expect(err).toMatch(
      /expected\.json at cards\.order-sign\[0\]\.hip: expected one of left, right, both, unknown, any, found "up"/,
    );
    expect(err).toMatch(/flat-low-cup\/bundle\.json: expected one Patient in the Bundle, found 2/);
    expect(err).toMatch(/anteverted-cup\/expected\.json: expected a JSON file, found nothing to read/);
  });
});

describe('kotyle trial --record', () => {
  const source = join(PATIENTS, 'demo-parkinson-steep-cup', 'bundle.json');
  const AT = ['--at', '2026-11-24T10:00:00Z'];

  it('makes a test patient that the trial then keeps', async () => {
    const into = join(root, 'recorded');
    const { out, code } = await kotyle([
      'trial',
      '--record',
      source,
      '--as',
      'a-steep-cup',
      '--into',
      into,
      ...AT,
    ]);
    expect(code).toBe(0);
    expect(out).toContain('order-sign: warning cup-inclination-outside-published left');
    expect(readdirSync(join(into, 'a-steep-cup')).sort()).toEqual(['bundle.json', 'expected.json']);
    const [patient] = sound(readTestPatients(into));
    expect(patient?.expected).toMatchObject({ truth: 'recorded', teaches: 'recorded, not judged yet' });
    expect((await kotyle(['trial', into])).code).toBe(0);
  });

  it('moves dates by as many days as nobody is told, or by those asked for', async () => {
    const dates = async (name: string, ...more: readonly string[]): Promise<readonly string[]> => {
      const into = join(root, name);
      await kotyle(['trial', '--record', source, '--as', 'x', '--into', into, ...AT, ...more]);
      const text =
        readFileSync(join(into, 'x', 'bundle.json'), 'utf8') +
        readFileSync(join(into, 'x', 'expected.json'), 'utf8');
      return text.match(/"\d{4}-\d{2}-\d{2}/g) ?? [];
    };
    const original = readFileSync(source, 'utf8').match(/"\d{4}-\d{2}-\d{2}/g) ?? [];
    const drawn = await dates('drawn');
    expect(drawn.length).toBeGreaterThan(3);
    for (const date of drawn) expect(original).not.toContain(date);
    expect(await dates('asked', '--shift-days', '-1')).toContain('"2026-11-23');
  });

  it.each([
    ['without a name', [], /--as: expected a name in lower case with hyphens, found none/],
    [
      'with a name of somebody',
      ['--as', 'Mrs. Smith'],
      /--as: expected a name in lower case with hyphens, found Mrs\. Smith/,
    ],
    [
      'with half a day',
      ['--as', 'y', '--shift-days', '0.5'],
      /--shift-days: expected a whole number, found 0\.5/,
    ],
    ['without a time of the call', ['--as', 'y', '--at', 'today'], /--at: expected an instant such as/],
  ])('ends with 2 %s', async (_what, args, message) => {
    const { err, code } = await kotyle(['trial', '--record', source, '--into', join(root, 'never'), ...args]);
    expect(code).toBe(2);
    expect(err).toMatch(message);
  });

  it('leaves nothing behind where it can not write', async () => {
    const blocked = join(root, 'a-file');
    writeFileSync(blocked, '');
    const { err, code } = await kotyle(['trial', '--record', source, '--as', 'x', '--into', blocked, ...AT]);
    expect(code).toBe(2);
    expect(err).toMatch(/could not write .*a-file\/x: its folder is a file; nothing was left half-written/);
  });

  it('never writes over a test patient, and tells nothing of a record that is no JSON', async () => {
    const folder = folderOf('taken', 'textbook-hip');
    const again = await kotyle([
      'trial',
      '--record',
      source,
      '--as',
      'textbook-hip',
      '--into',
      folder,
      ...AT,
    ]);
    expect([again.code, again.err]).toEqual([2, expect.stringMatching(/expected a name that is free/)]);
    const file = join(root, 'not.json');
    writeFileSync(file, 'Featherstonehaugh, Quincey');
    const broken = await kotyle(['trial', '--record', file, '--as', 'z', '--into', root, ...AT]);
    expect(broken.code).toBe(2);
    expect(broken.err).toMatch(/not\.json: expected JSON/);
    expect(broken.err).not.toContain('Feather');
  });
});

import { mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, describe, expect, it } from 'vitest';
import { readPackText } from '../../src/rulebook-files/pack-file.js';
import { evaluateCommand } from '../../src/cli/verbs/evaluate.js';
import { objectsIn } from '../../src/fhir/json.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { PATIENTS, rulebook, testPatient } from '../advice/patients.js';
import { startFhirServer } from '../fhir-server/fhir-server.js';
import { fhirIssues } from '../oracles/fhir-validity.js';
import { kotyle } from './kotyle-io.js';

const NOW = ['--now', '2026-11-24T10:00:00Z'];
const DEMO = join(PATIENTS, 'demo-parkinson-steep-cup', 'bundle.json');
const RULES = fileURLToPath(new URL('../../rules', import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'kotyle-cli-'));
afterAll(() => {
  rmSync(folder, { recursive: true });
});

function file(name: string, content: string): string {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
}

interface WireAnswer {
  readonly cards: readonly { readonly source: { readonly topic: { readonly code: string } } }[];
}

function rulesOf({ cards }: WireAnswer): readonly string[] {
  return cards.map(({ source }) => source.topic.code);
}

function expectedAt(name: string, hook: string): readonly string[] {
  return (testPatient(name).expected.cards[hook] ?? []).map(({ rule }) => rule);
}

describe('the command', () => {
  it('helps with every verb: one line on what it is for, and an example', async () => {
    const { out, code } = await kotyle(['--help']);
    expect(code).toBe(0);
    for (const verb of ['serve', 'evaluate', 'explain', 'check', 'synthesize', 'pack']) {
      expect(out).toMatch(new RegExp(`^  ${verb} `, 'm'));
      const help = await kotyle([verb, '--help']);
      expect(help.code).toBe(0);
      expect(help.out).toMatch(/Examples?:\n +.*kotyle /);
    }
  });

  it('tells its version, that of the package', async () => {
    const { version } = JSON.parse(readFileSync(join(RULES, '../package.json'), 'utf8')) as {
      version: string;
    };
    expect(await kotyle(['--version'])).toEqual({ out: `${version}\n`, err: '', code: 0 });
  });

  it.each([
    [[], /Usage: kotyle/],
    [['evaluat'], /unknown command 'evaluat'\n\(Did you mean evaluate\?\)/],
    [['something'], /unknown command 'something'[\s\S]*verbs: serve, evaluate/],
    [['pack', '--outt'], /unknown option '--outt'/],
    [['explain'], /missing required argument 'rule'/],
    [['evaluate'], /expected a Bundle, --patient or --cohort, found none/],
    [['evaluate', DEMO, '--hook', 'signing'], /'signing' is invalid[\s\S]*booking, order, chart, all/],
    [['evaluate', DEMO, '--json', '--format', 'html'], /--json and --format html: expected one of them/],
    [
      ['evaluate', DEMO, '--now', 'yesterday'],
      /--now: expected a day or an instant with its zone, found yesterday/,
    ],
    [['evaluate', DEMO, '--now', '2026-13-45'], /--now: expected/],
    [['evaluate', '/nowhere/b.json'], /expected a file, found nothing at \/nowhere\/b\.json/],
    [['evaluate', PATIENTS], /expected a Bundle of one patient, found a folder[\s\S]*--cohort/],
    [
      ['evaluate', DEMO, '--rules', '/nowhere'],
      /--rules: expected a folder of rules, found nothing at \/nowhere/,
    ],
    [['evaluate', DEMO, '--rules', PATIENTS], /--rules: expected a folder with rulebook\.json, found none/],
    [['evaluate', DEMO, '--site', '/nowhere'], /--site: expected a site file, found nothing/],
    [['evaluate', DEMO, '--site', DEMO], /the site file .* has faults/],
    [['evaluate', '--patient', '1'], /--patient and --fhir-server: expected both, found one/],
    [['evaluate', DEMO, '--cohort', PATIENTS], /--cohort: expected no other patient beside it/],
    [
      ['evaluate', '--cohort', PATIENTS, '--format', 'fhir'],
      /--format fhir: a cohort has text, json and html/,
    ],
    [['evaluate', '--cohort', '/nowhere'], /--cohort: expected a folder, .* found nothing at \/nowhere/],
    [
      ['evaluate', '--cohort', 'synthetic:tall:10:1'],
      /profile record-like or fully-planned and whole numbers/,
    ],
    [['evaluate', '--cohort', RULES], /none of \d+ could be evaluated|expected Bundles/],
    [['explain', 'cup-of-plan'], /found cup-of-plan\ntry: cup-off-plan/],
    [['explain', 'nothing-like-it'], /try: one of abductor-loss, /],
    [['pack', '--check', '/nowhere'], /expected a packed rulebook, found nothing at \/nowhere/],
    [['pack', '--check', DEMO], /expected a packed rulebook with kotylePack, found something else/],
  ])('ends %j with 2 and says what was expected', async (args, message) => {
    const { out, err, code } = await kotyle(args);
    expect(err).toMatch(message);
    expect({ out, code }).toEqual({ out: '', code: 2 });
    expect(err).not.toMatch(/\n +at /);
  });
});

describe('evaluate', () => {
  it('answers cards as the service would: those written down for the patient', async () => {
    const one = await kotyle(['evaluate', DEMO, ...NOW, '--hook', 'order', '--format', 'cards']);
    expect(one.code).toBe(0);
    expect(rulesOf(JSON.parse(one.out) as WireAnswer)).toEqual(
      expectedAt('demo-parkinson-steep-cup', 'order-sign'),
    );
    const all = await kotyle(['evaluate', DEMO, ...NOW, '--format', 'cards']);
    const byHook = JSON.parse(all.out) as Readonly<Record<string, WireAnswer>>;
    expect(Object.keys(byHook)).toEqual(['appointment-book', 'order-sign', 'patient-view']);
    expect(byHook['appointment-book'] && rulesOf(byHook['appointment-book'])).toEqual(
      expectedAt('demo-parkinson-steep-cup', 'appointment-book'),
    );
  });

  it('writes the evaluation as JSON, the same bytes each time, and with --out to a file', async () => {
    const path = join(folder, 'evaluation.json');
    const printed = await kotyle(['evaluate', DEMO, ...NOW, '--hook', 'chart', '--json']);
    const written = await kotyle(['evaluate', DEMO, ...NOW, '--hook', 'chart', '--json', '--out', path]);
    expect(JSON.parse(printed.out)).toMatchObject({
      entry: 'patient-view',
      evaluatedAt: '2026-11-24T10:00:00.000Z',
      rulebook: { hash: rulebook.hash },
    });
    expect(written.out).toBe('');
    expect(readFileSync(path, 'utf8')).toBe(printed.out);
    expect(readdirSync(folder).filter((name) => name.endsWith('.part'))).toEqual([]);
  });

  it('writes valid FHIR and a page', async () => {
    const fhir = await kotyle(['evaluate', DEMO, ...NOW, '--format', 'fhir']);
    expect(fhirIssues(JSON.parse(fhir.out) as object)).toEqual([]);
    const page = await kotyle(['evaluate', DEMO, ...NOW, '--format', 'html']);
    expect(page.out).toMatch(/^<!doctype html>/);
  });

  it('reads standard input, and says when there is nothing on it', async () => {
    const stdin = (text: string) => [
      (...[program, io]: Parameters<typeof evaluateCommand>) => {
        evaluateCommand(program, io, (path) => Promise.resolve(path === '-' ? text : 'not asked'));
      },
    ];
    const read = await kotyle(['evaluate', '-', ...NOW], stdin(readFileSync(DEMO, 'utf8')));
    expect(read.out).toContain('Order being signed (order-sign): 3 cards');
    const empty = await kotyle(['evaluate', '-'], stdin(' \n'));
    expect(empty).toEqual({
      out: '',
      err: 'kotyle: standard input: expected a FHIR Bundle, found nothing in it\n',
      code: 2,
    });
  });

  it.each([
    [
      'broken.json',
      '{"resourceType": "Bundle",\n "entry": [}',
      /broken\.json: broken JSON at line 2, column 12: expected a value, found \}/,
    ],
    [
      'patient.json',
      '{"resourceType":"Patient"}',
      /patient\.json: expected a FHIR R4 Bundle, found a Patient/,
    ],
    [
      'two.json',
      JSON.stringify({
        resourceType: 'Bundle',
        entry: ['ann', 'ben'].map((id) => ({ resource: { resourceType: 'Patient', id } })),
      }),
      /two\.json: expected one Patient in the Bundle, found 2: ann, ben\ntry: one Bundle for each patient, or --cohort/,
    ],
    [
      'knee.json',
      readFileSync(join(PATIENTS, 'knee-replacement', 'bundle.json'), 'utf8'),
      /knee\.json: expected a visit or draft order for a hip replacement, .* found none among 1 Patient/,
    ],
  ])('refuses %s and says where it fails', async (name, content, message) => {
    const { out, err, code } = await kotyle(['evaluate', file(name, content)]);
    expect(err).toMatch(message);
    expect({ out, code }).toEqual({ out: '', code: 2 });
  });

  it('says why nothing could be written, and leaves nothing behind', async () => {
    const nowhere = await kotyle(['evaluate', DEMO, '--out', '/nowhere/page.html', '--format', 'html']);
    expect(nowhere.err).toMatch(
      /could not write \/nowhere\/page\.html: its folder does not exist; nothing was left/,
    );
    const full = await kotyle(['evaluate', DEMO, '--out', '/dev/full']);
    expect(full.err).toMatch(/could not write \/dev\/full: the disk is full/);
    const taken = await kotyle(['evaluate', DEMO, '--out', folder]);
    expect(taken.err).toMatch(/expected the name of a file to write, found a folder/);
    expect([nowhere.code, full.code, taken.code]).toEqual([2, 2, 2]);
  });
});

describe('evaluate with a FHIR server', () => {
  const resources = objectsIn(testPatient('demo-parkinson-steep-cup').bundle['entry']).map(
    ({ resource }) => resource as JsonObject,
  );
  const address = (base: string): readonly string[] => [
    '--patient',
    'demo-parkinson-steep-cup',
    '--fhir-server',
    base,
  ];

  it('reads the patient from it, sends the token to it alone, and tells the same cards', async () => {
    const server = await startFhirServer(resources);
    try {
      const token = file('token.txt', 'secret-token\n');
      const args = ['evaluate', ...address(server.base), '--token-file', token, ...NOW, '--format', 'cards'];
      const { out, err, code } = await kotyle(args);
      const byHook = JSON.parse(out) as Readonly<Record<string, WireAnswer>>;
      for (const hook of ['appointment-book', 'order-sign'])
        expect(byHook[hook] && rulesOf(byHook[hook])).toEqual(expectedAt('demo-parkinson-steep-cup', hook));
      expect({ code, err }).toEqual({ code: 0, err: '' });
      expect(new Set(server.requests.map(({ authorization }) => authorization))).toEqual(
        new Set(['Bearer secret-token']),
      );
    } finally {
      await server.stop();
    }
  });

  it('tells what could not be read instead of taking it for nothing', async () => {
    const server = await startFhirServer(resources, { unknownTypes: { Procedure: 404 } });
    try {
      const { out } = await kotyle(['evaluate', ...address(server.base), ...NOW, '--hook', 'order']);
      expect(out).toMatch(/Not wholly read, or not used:[\s\S]*- earlier procedures: /);
    } finally {
      await server.stop();
    }
  });

  it('says when the patient is not there, and never the token', async () => {
    const server = await startFhirServer(resources);
    try {
      const args = [
        '--patient',
        'nobody',
        '--fhir-server',
        server.base,
        '--token-file',
        join(folder, 'token.txt'),
      ];
      file('token.txt', 'secret-token');
      const { err, code } = await kotyle(['evaluate', ...args]);
      expect(err).toMatch(/expected Patient\/nobody on http:.*, found none: /);
      expect(err).not.toContain('secret');
      expect(code).toBe(2);
      const wrong = await kotyle(['evaluate', '--patient', '1', '--fhir-server', 'record.example']);
      expect(wrong.err).toMatch(/--fhir-server: expected the http or https base URL/);
    } finally {
      await server.stop();
    }
  });
});

describe('evaluate for a cohort', () => {
  const bundles = ['demo-parkinson-steep-cup', 'nothing-known'].map((name) =>
    JSON.stringify(testPatient(name).bundle),
  );

  it('takes one Bundle a line, tells lines it could not read, and ends with 1 then', async () => {
    const clean = await kotyle([
      'evaluate',
      '--cohort',
      file('two.ndjson', bundles.join('\n')),
      ...NOW,
      '--json',
    ]);
    expect(JSON.parse(clean.out)).toMatchObject({ kind: 'cohort', patients: 2, unreadable: [] });
    expect(clean.code).toBe(0);
    const mixed = file(
      'mixed.ndjson',
      [bundles[0], '{"a":', '', '{"resourceType":"Patient"}', bundles[1]].join('\n'),
    );
    const told = await kotyle(['evaluate', '--cohort', mixed, ...NOW, '--json']);
    expect(JSON.parse(told.out)).toMatchObject({
      patients: 4,
      unreadable: [
        { where: 'line 2', why: 'broken JSON at line 1, column 6: expected a value, found the end' },
        { where: 'line 4', why: 'expected a FHIR R4 Bundle, found a Patient' },
      ],
    });
    expect(told.code).toBe(1);
    expect(told.err).toContain('2 could not be evaluated');
  });

  it('takes synthetic hips, the same for the same seed', async () => {
    const args = ['evaluate', '--cohort', 'synthetic:fully-planned:15:7', ...NOW, '--json'];
    const [first, second] = [await kotyle(args), await kotyle(args)];
    expect(first.out).toBe(second.out);
    expect(JSON.parse(first.out)).toMatchObject({ patients: 15, withoutHip: 0, unreadable: [] });
  });

  it.each([
    ['an empty file', ''],
    ['blank lines', '\n\n'],
    ['no Bundle at all', '{"a":1}\n{"b":2}'],
  ])('refuses %s', async (_name, content) => {
    const { err, out, code } = await kotyle(['evaluate', '--cohort', file('bad.ndjson', content)]);
    expect(err).toMatch(
      /--cohort: (expected one Bundle a line|none of 2 could be evaluated; the first, line 1)/,
    );
    expect({ out, code }).toEqual({ out: '', code: 2 });
  });
});

describe('explain', () => {
  it('tells a rule in words, or as JSON', async () => {
    const words = await kotyle(['explain', 'cup-inclination-outside-published']);
    expect(words.out).toContain(
      'cup inclination clearly above 58° (named steep; limit cup-inclination-published-high',
    );
    expect(words.code).toBe(0);
    const json = await kotyle(['explain', 'cup-inclination-outside-published', '--json']);
    expect(JSON.parse(json.out)).toMatchObject({
      rule: 'cup-inclination-outside-published',
      indicator: 'warning',
    });
  });
});

describe('pack', () => {
  it('writes the rulebook under its hash, the same bytes each time, and verifies it', async () => {
    const [first, second] = [join(folder, 'a.json'), join(folder, 'b.json')];
    const packed = await kotyle(['pack', '--out', first]);
    await kotyle(['pack', '--out', second]);
    expect(readFileSync(first)).toEqual(readFileSync(second));
    expect(packed.out).toContain(rulebook.hash);
    expect(readPackText(readFileSync(first, 'utf8'))).toMatchObject({ ok: true, hash: rulebook.hash });
    const checked = await kotyle(['pack', '--check', first, '--json']);
    expect(JSON.parse(checked.out)).toMatchObject({ hash: rulebook.hash, same: true });
    expect(checked.code).toBe(0);
  });

  it('refuses a packed file with anything changed', async () => {
    const sound = join(folder, 'sound.json');
    await kotyle(['pack', '--out', sound]);
    const text = readFileSync(sound, 'utf8');
    for (const changed of [
      text.replace('"value":58,', '"value":59,'),
      text.replace('"kotylePack":1', '"kotylePack":2'),
      `${text} `,
      text.slice(0, -10),
    ]) {
      expect(changed).not.toBe(text);
      const { code, out } = await kotyle(['pack', '--check', file('changed.json', changed)]);
      expect({ code, out }).toEqual({ code: 2, out: '' });
    }
  });
});

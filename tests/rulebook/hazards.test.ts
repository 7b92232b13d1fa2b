import { readFileSync, readdirSync } from 'node:fs';
import { basename, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { LIKELIHOODS, SEVERITIES, hazardLogSchema, riskOf } from '../../src/rulebook/hazard-schema.js';
import type { Control, HazardLog } from '../../src/rulebook/hazard-schema.js';
import { checkHazards } from '../../src/workbench/check/check-hazards.js';
import { hazardsPage } from '../../src/workbench/hazards/hazards-page.js';
import { testTitles, titlesIn } from './test-titles.js';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const content = JSON.parse(readFileSync(join(ROOT, 'rules/hazards.json'), 'utf8')) as unknown;
const log = hazardLogSchema.parse(content);

/** What is named to hold a control and does not: no such file, no such test, or several of that name. */
function unheld({ hazards }: HazardLog, titles: typeof titlesIn): readonly string[] {
  const known = new Map<string, readonly string[] | undefined>();
  const titlesOf = (file: string): readonly string[] | undefined => {
    if (!known.has(file)) known.set(file, titles(join(ROOT, file)));
    return known.get(file);
  };
  return hazards.flatMap(({ id, controls }) =>
    controls.flatMap(testsOf).flatMap(({ file, name }) => {
      const found = titlesOf(file)?.filter((title) => title === name).length;
      return found === 1 ? [] : [`${id}: ${found ?? 'no file'} of "${name}" in ${file}`];
    }),
  );
}

function testsOf(control: Control): readonly { readonly file: string; readonly name: string }[] {
  return control.state === 'tested' ? control.tests : [];
}

describe('the hazard log', () => {
  it('has nothing wrong in it', () => {
    expect(checkHazards(content)).toEqual([]);
  });

  it('names only tests that exist under exactly that name, once in their file', () => {
    expect(unheld(log, titlesIn)).toEqual([]);
  });

  it('names only files that the test run takes in', () => {
    const files = new Set(
      log.hazards.flatMap(({ controls }) => controls.flatMap(testsOf)).map(({ file }) => file),
    );
    const shared = [...files].filter((file) => !file.endsWith('.test.ts'));
    const run = readdirSync(join(ROOT, 'tests'), { recursive: true, encoding: 'utf8' })
      .filter((file) => file.endsWith('.test.ts'))
      .map((file) => readFileSync(join(ROOT, 'tests', file), 'utf8'));
    const isTakenIn = (file: string): boolean =>
      run.some((text) => text.includes(`/${basename(file, '.ts')}.js'`));
    expect(shared.filter((file) => !isTakenIn(file))).toEqual([]);
  });

  it('has been reviewed by nobody yet, and every hazard waits for an owner of the site', () => {
    // Truth: the rulebook is draft; nobody may be named who has not read it.
    expect(log.hazards.filter(({ review }) => review.state !== 'draft').map(({ id }) => id)).toEqual([]);
    expect([...new Set(log.hazards.map(({ owner }) => owner))]).toEqual([
      "open: a site's clinical safety officer",
    ]);
  });

  it('is written out as a page that is not stale: `npm run hazards` writes it anew', () => {
    expect(hazardsPage(log)).toBe(readFileSync(join(ROOT, 'rules/HAZARDS.md'), 'utf8'));
  });
});

describe('the risk matrix', () => {
  it('never falls with severity or likelihood, and uses every risk from 1 to 5', () => {
    const risks = SEVERITIES.map((severity) => LIKELIHOODS.map((likelihood) => riskOf(severity, likelihood)));
    for (const [row, line] of risks.entries())
      for (const [column, risk] of line.entries()) {
        expect(risk).toBeGreaterThanOrEqual(line[column - 1] ?? 1);
        expect(risk).toBeGreaterThanOrEqual(risks[row - 1]?.[column] ?? 1);
      }
    expect([...new Set(risks.flat())].sort()).toEqual([1, 2, 3, 4, 5]);
  });

  it('stands in the documentation of the schema as it is computed', () => {
    const said = SEVERITIES.map(
      (severity) => `${severity} ${LIKELIHOODS.map((likelihood) => riskOf(severity, likelihood)).join(' ')}`,
    ).join('; ');
    expect(JSON.stringify(hazardLogSchema.toJSONSchema())).toContain(said);
  });
});

// Every fault is planted in the log as shipped, which has none.
describe('a fault planted in the hazard log is told:', () => {
  type Change = (hazard: Record<string, unknown>) => void;

  function faultsAfter(change: Change, at = 0): readonly string[] {
    const copy = JSON.parse(JSON.stringify(content)) as { hazards: Record<string, unknown>[] };
    const hazard = copy.hazards[at];
    if (!hazard) throw new Error(`no hazard ${at}`);
    change(hazard);
    return checkHazards(copy).map(({ path, expected, found }) => `${path}: ${expected}, found ${found}`);
  }

  const tested = { state: 'tested', says: 'x', tests: [{ file: 'tests/a.test.ts', name: 'a' }] };
  const severe = { severity: 'major', likelihood: 'medium', risk: 3 };

  const cases: readonly (readonly [string, Change, RegExp])[] = [
    ['no control', (hazard) => (hazard['controls'] = []), /^hazards\[0\]\.controls: .*found \[\]$/],
    [
      'information alone',
      (hazard) => Object.assign(hazard, { before: severe, controls: [{ ...tested, kind: 'information' }] }),
      /controls: a tested control by design or protection.*found information, tested$/,
    ],
    [
      'a control by design that is only planned',
      (hazard) =>
        Object.assign(hazard, {
          before: severe,
          status: 'watched',
          remains: 'x',
          controls: [{ state: 'planned', kind: 'design', says: 'x' }],
        }),
      /controls: a tested control by design or protection.*found design, planned$/,
    ],
    [
      'a severity nobody knows',
      (hazard) => Object.assign(hazard, { before: { ...severe, severity: 'severe' } }),
      /^hazards\[0\]\.before\.severity: one of minor, .*found "severe"$/,
    ],
    [
      'a risk that is not that of the matrix',
      (hazard) => Object.assign(hazard, { before: { ...severe, risk: 5 } }),
      /before\.risk: 3, that of major and medium, found 5$/,
    ],
    [
      'a risk that grew',
      (hazard) =>
        Object.assign(hazard, {
          before: { severity: 'minor', likelihood: 'low', risk: 1 },
          after: severe,
          status: 'watched',
          remains: 'x',
        }),
      /after\.risk: no more than before, 1, found 3$/,
    ],
    [
      'a risk called controlled that is not acceptable',
      (hazard) => {
        Object.assign(hazard, { before: severe, after: severe, status: 'controlled' });
        delete hazard['remains'];
      },
      /status: watched or open, as a risk of 3 remains, found controlled$/,
    ],
    [
      'an unacceptable risk that is not called open',
      (hazard) => {
        const worst = { severity: 'major', likelihood: 'high', risk: 4 };
        Object.assign(hazard, { before: worst, after: worst, status: 'watched', remains: 'x' });
      },
      /status: open, as a risk of 4 remains, found watched$/,
    ],
    [
      'something left to do that nobody names',
      (hazard) => {
        Object.assign(hazard, { status: 'open' });
        delete hazard['remains'];
      },
      /remains: what is left to do, found nothing$/,
    ],
    [
      'an untested control beside the word controlled',
      (hazard) => {
        Object.assign(hazard, {
          status: 'controlled',
          controls: [
            { ...tested, kind: 'design' },
            { state: 'untested', kind: 'design', says: 'x', why: 'x' },
          ],
        });
        delete hazard['remains'];
      },
      /status: watched or open, as a control is planned or has no test, found controlled$/,
    ],
    ['an id used twice', (hazard) => (hazard['id'] = 'HZ-02'), /id: an id of its own, found HZ-02$/],
    ['an id that left no trace', (hazard) => (hazard['id'] = 'HZ-02'), /^hazards: HZ-01, as a hazard/],
  ];

  it.each(cases)('%s', (_name, change, told) => {
    expect(faultsAfter(change)).toEqual(expect.arrayContaining([expect.stringMatching(told)]));
  });

  it('a retired id used again', () => {
    const faults = checkHazards({ ...log, retired: ['HZ-01'] });
    expect(faults).toEqual([
      { path: 'hazards[0].id', expected: 'an id that was never used', found: 'HZ-01, retired' },
    ]);
  });

  it('a test that was renamed, taken out, skipped or written twice, and a file that is gone', () => {
    const named: HazardLog = { ...log, hazards: log.hazards.slice(0, 1) };
    const [control] = named.hazards[0]?.controls ?? [];
    const [test] = control ? testsOf(control) : [];
    if (!test) throw new Error('no test named');
    const quoted = JSON.stringify(test.name);
    const titlesOf = (text: string | undefined): ReturnType<typeof titlesIn> =>
      text === undefined ? undefined : testTitles('a.ts', text);
    const asIf = (text: string | undefined): readonly string[] =>
      unheld(named, (path) => (path === join(ROOT, test.file) ? titlesOf(text) : titlesIn(path))).filter(
        (one) => one.includes(test.name),
      );
    const told = (how: number | string): readonly string[] => [
      `HZ-01: ${how} of "${test.name}" in ${test.file}`,
    ];
    expect(asIf(`it(${quoted}, () => {});`)).toEqual([]);
    expect(asIf(`it(${JSON.stringify(`${test.name}!`)}, () => {});`)).toEqual(told(0));
    expect(asIf(`it.skip(${quoted}, () => {});`)).toEqual(told(0));
    expect(asIf(`describe.skipIf(true)('a', () => { it(${quoted}, () => {}); });`)).toEqual(told(0));
    expect(asIf(`it(${quoted}, () => {}); it(${quoted}, () => {});`)).toEqual(told(2));
    expect(asIf(undefined)).toEqual(told('no file'));
  });
});

describe('the titles of a test file', () => {
  it('are read from every way of writing a test, and from nothing else', () => {
    const text = `
      describe('group', () => {
        it('plain', () => {});
        test("quoted 'so'", async () => {});
        it.each([1, 2])('of %d', (n) => {});
        it.each<readonly [string]>([['a']])('typed %s', function (n) {});
        for (const x of [1]) it(\`of \${x} made\`, () => {});
        it('slow', { timeout: 5 }, () => {});
        it(LABEL, () => {});
        other('not a test', () => {});
        it.todo('not yet');
        it.runIf(process.env.X)('sometimes', () => {});
      });
      describe.each([1])('each %d', () => { it('inside', () => {}); });`;
    expect(testTitles('a.test.ts', text)).toEqual([
      'plain',
      "quoted 'so'",
      'of %d',
      'typed %s',
      'of ${x} made',
      'slow',
      'inside',
    ]);
  });
});

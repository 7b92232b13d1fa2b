import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, relative } from 'node:path';
import { conformancePage, NOT_RUN } from './conformance-page.js';
import { readRows, ROOT, taggedTests, testsOf, titlePattern } from './conformance-rows.js';
import type { Row, RowTest } from './conformance-rows.js';

/** Runs the tests of all rows and writes `CONFORMANCE.md`: row → tests → result. Fails when a row's test does. */

interface Assertion {
  readonly title: string;
  readonly ancestorTitles: readonly string[];
  readonly status: string;
}

interface Report {
  readonly testResults: readonly {
    readonly name: string;
    readonly assertionResults: readonly Assertion[];
  }[];
}

function run(files: readonly string[]): Report {
  const folder = mkdtempSync(join(tmpdir(), 'kotyle-conformance-'));
  try {
    const out = join(folder, 'report.json');
    spawnSync('npx', ['vitest', 'run', '--reporter=json', `--outputFile=${out}`, ...files], {
      cwd: ROOT,
      stdio: ['ignore', 'ignore', 'inherit'],
    });
    return JSON.parse(readFileSync(out, 'utf8')) as Report;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

const rows = readRows();
const tagged = taggedTests();
const of = (row: Row): readonly RowTest[] => testsOf(row, tagged);
const report = run([...new Set(rows.flatMap(of).map(({ file }) => file))].sort());
const byFile = new Map(
  report.testResults.map(({ name, assertionResults }) => [relative(ROOT, name), assertionResults]),
);

function isOf({ title, groups = [] }: RowTest, told: Assertion): boolean {
  return (
    titlePattern(title).test(told.title) &&
    groups.every((group) => told.ancestorTitles.some((one) => titlePattern(group).test(one)))
  );
}

/** How often the tests of a row passed; what did not pass is told first. */
function resultOf(row: Row): string {
  const tests = of(row);
  if (tests.length === 0) return '–';
  const statuses = tests.map((test) =>
    (byFile.get(test.file) ?? []).filter((one) => isOf(test, one)).map(({ status }) => status),
  );
  if (statuses.some((found) => found.length === 0)) return NOT_RUN;
  const all = statuses.flat();
  const count = (status: string): number => all.filter((one) => one === status).length;
  if (count('failed') > 0) return `${count('failed')} of ${all.length} failed`;
  const left = all.length - count('passed');
  return left === 0 ? `${all.length} passed` : `${count('passed')} passed, ${left} left out on that machine`;
}

writeFileSync(new URL('CONFORMANCE.md', import.meta.url), conformancePage(rows, of, resultOf));
const open = rows.filter((row) => !/^[1-9]\d* passed|^–$/.test(resultOf(row))).map(({ id }) => id);
process.stdout.write(`wrote tests/protocol/CONFORMANCE.md; rows not passed: ${open.join(', ') || 'none'}\n`);
process.exitCode = open.length > 0 ? 1 : 0;

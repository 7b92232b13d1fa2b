import { join } from 'node:path';
import { createVitest } from 'vitest/node';
import type { Vitest } from 'vitest/node';
import { ROOT, titlePattern } from './conformance-rows.js';
import { readRemovals, removing } from './removal-list.js';
import type { Removal } from './removal-list.js';

/**
 * Takes one behavior after another out of the service and runs the test that must miss it. `npm run removals` tries all;
 * `-- 10` every tenth, `-- <text>` those whose row, file or description holds the text. Fails when a test misses nothing.
 */

type Verdict = 'noticed' | 'survived' | 'not loaded' | 'not run';

/** A run of its own each time: nothing that was loaded before is still there. */
async function start(without: Removal | undefined): Promise<Vitest> {
  return await createVitest(
    'test',
    {
      root: ROOT,
      config: false,
      watch: false,
      include: ['tests/**/*.test.ts'],
      reporters: [{}],
      // A budget that was taken out shows only as a wait: a longer limit would let it pass.
      testTimeout: 30_000,
      silent: true,
    },
    { plugins: without ? [removing(without)] : [], logLevel: 'silent' },
  );
}

interface Ran {
  /** What became of a test: one state for each of its cases. */
  readonly states: (test: Removal['test']) => readonly string[];
  /** Errors outside of tests. */
  readonly errors: readonly { readonly name?: string | undefined; readonly message: string }[];
}

async function run(tests: readonly Removal['test'][], without?: Removal): Promise<Ran> {
  const vitest = await start(without);
  try {
    const titles = tests.map(({ title }) => titlePattern(title).source.slice(1));
    vitest.setGlobalTestNamePattern(new RegExp(`(?:^| )(?:${titles.join('|')})`, 's'));
    const files = [...new Set(tests.map(({ file }) => join(ROOT, file)))];
    const { testModules } = await vitest.runTestSpecifications(await vitest.globTestSpecifications(files));
    const found = testModules.flatMap((module) =>
      [...module.children.allTests()].map((test) => ({
        file: module.moduleId,
        name: test.name,
        state: test.result().state,
      })),
    );
    return {
      states: ({ file, title }) =>
        found
          .filter((test) => test.file === join(ROOT, file) && titlePattern(title).test(test.name))
          .map(({ state }) => state),
      errors: testModules.flatMap((module) => module.errors()),
    };
  } finally {
    await vitest.close();
  }
}

async function verdictOf(one: Removal): Promise<Verdict> {
  const { states, errors } = await run([one.test], one);
  const seen = states(one.test);
  if (seen.includes('failed')) return 'noticed';
  // A file that asks the service while it is loaded fails there, for want of the same behavior.
  if (errors.some(({ name }) => name === 'AssertionError')) return 'noticed';
  if (errors.length > 0) {
    process.stdout.write(`${errors.map(({ message }) => message).join('\n')}\n`);
    return 'not loaded';
  }
  return seen.includes('passed') ? 'survived' : 'not run';
}

/** Tests that do not pass with everything in its place: what they say of a removal would mean nothing. */
async function unsound(tests: readonly Removal['test'][]): Promise<readonly string[]> {
  const { states } = await run(tests);
  return tests
    .filter((test) => {
      const seen = states(test);
      return !seen.includes('passed') || seen.includes('failed');
    })
    .map(({ file, title }) => `OPEN fails with everything in its place: ${file}: ${title}`);
}

function chosen(all: readonly Removal[], wanted: string | undefined): readonly Removal[] {
  if (wanted === undefined) return all;
  if (wanted.startsWith('=')) return all.filter(({ without }) => without === wanted.slice(1));
  if (/^\d+$/.test(wanted)) return all.filter((_one, index) => index % Number(wanted) === 0);
  return all.filter((one) => [one.row, one.file, one.without].some((text) => text?.includes(wanted)));
}

const removals = chosen(readRemovals(), process.argv[2]);
if (removals.length === 0) throw new Error(`no removal is chosen by ${process.argv[2] ?? 'nothing'}`);
const open: string[] = [...new Set(await unsound(removals.map(({ test }) => test)))];
const before = open.length;
for (const one of removals) {
  const verdict = await verdictOf(one);
  const told = `${verdict}: ${one.row ?? '-'} without ${one.without} (${one.file})`;
  process.stdout.write(`${told}\n`);
  if (verdict !== 'noticed') open.push(`OPEN ${told}`);
}
process.stdout.write(`${removals.length - (open.length - before)} of ${removals.length} noticed\n`);
for (const told of open) process.stdout.write(`${told}\n`);
process.exit(open.length > 0 ? 1 : 0);

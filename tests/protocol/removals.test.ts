import { spawnSync } from 'node:child_process';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { titlesIn } from '../rulebook/test-titles.js';
import { isApplicable, readRows, ROOT } from './conformance-rows.js';
import { editsOf, occurrences, readRemovals } from './removal-list.js';

const removals = readRemovals();
const rows = readRows();

/** Every nth removal is tried; 1 tries all. */
const STEP = Number(process.env['KOTYLE_REMOVALS'] ?? 200);

/** SHALL rows of which nothing here can be taken out, and why. */
const NOTHING_TO_REMOVE: Readonly<Record<string, string>> = {
  G1: 'a start that is refused: tested with the settings of production',
  G2: 'no answer but an OperationOutcome holds a resource, and E9 takes that out',
  H9: 'no hook is defined here',
  P1: 'the templates are data that its test reads',
  P2: 'the templates are data that its test reads',
  P3: 'the templates are data that its test reads',
  P5: 'the templates are data that its test reads',
  T2: 'the block is an object by its type; its test reads every answer',
};

describe('the removals', () => {
  it('each take out what stands exactly once in its file, and put something else there', () => {
    const wrong = removals
      .flatMap(editsOf)
      .filter((one) => occurrences(one) !== 1 || one.text === one.instead);
    expect(wrong.map(({ file, text }) => `${file}: ${text}`)).toEqual([]);
  });

  it('each belong to a row there is, and name a test that exists once', () => {
    const known = new Set(rows.map(({ id }) => id));
    expect(removals.filter(({ row }) => row !== undefined && !known.has(row))).toEqual([]);
    const missing = removals.filter(
      ({ test: { file, title } }) => titlesIn(join(ROOT, file))?.filter((one) => one === title).length !== 1,
    );
    expect(missing.map(({ test: { file, title } }) => `${file}: ${title}`)).toEqual([]);
  });

  it('take something out of every SHALL row that applies', () => {
    const shall = rows.filter((row) => isApplicable(row) && /SHALL|REQUIRED/.test(row.level));
    const removed = new Set(removals.map(({ row }) => row));
    const untouched = shall.filter(({ id }) => !removed.has(id) && !(id in NOTHING_TO_REMOVE));
    expect(untouched.map(({ id }) => id)).toEqual([]);
  });

  it(
    'are each missed by their test',
    () => {
      const run = spawnSync('npx', ['tsx', join(ROOT, 'tests/protocol/run-removals.ts'), String(STEP)], {
        cwd: ROOT,
        encoding: 'utf8',
        // The runner is no part of this run.
        env: { PATH: process.env['PATH'] ?? '', HOME: process.env['HOME'] ?? '' },
      });
      const open = run.stdout.split('\n').filter((line) => line.startsWith('OPEN '));
      expect(open).toEqual([]);
      expect(run.status, run.stderr).toBe(0);
      expect(run.stdout).toMatch(/^[1-9]\d* of [1-9]\d* noticed$/m);
    },
    60_000 + Math.ceil(removals.length / STEP) * 60_000,
  );
});

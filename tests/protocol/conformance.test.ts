import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { titlesIn } from '../rulebook/test-titles.js';
import { conformancePage, resultOn } from './conformance-page.js';
import { isApplicable, readRows, ROOT, taggedTests, testsOf, titlePattern } from './conformance-rows.js';

const rows = readRows();
const tagged = taggedTests();

/** How many rows each section of the conformance list has; the hook contexts have a row for each field besides. */
const COUNTS: Readonly<Record<string, number>> = {
  G: 7,
  D: 14,
  R: 12,
  H: 10,
  P: 17,
  F: 9,
  C: 26,
  B: 10,
  S: 16,
  X: 3,
  E: 11,
  T: 4,
  N: 4,
};

describe('the conformance rows', () => {
  it('are all there, each once, in order', () => {
    const expected = Object.entries(COUNTS).flatMap(([letter, count]) =>
      Array.from({ length: count }, (_none, index) => `${letter}${index + 1}`),
    );
    const own = rows.map(({ id }) => id).filter((id) => /^[A-Z]/.test(id));
    expect(own).toEqual(expected);
    expect(new Set(rows.map(({ id }) => id)).size).toBe(rows.length);
  });

  it('that do not apply say why', () => {
    expect(rows.filter((row) => !isApplicable(row) && row.why === undefined).map(({ id }) => id)).toEqual([]);
  });

  it('that apply are each held by a test', () => {
    const unheld = rows.filter((row) => isApplicable(row) && testsOf(row, tagged).length === 0);
    expect(unheld.map(({ id }) => id)).toEqual([]);
  });

  it('name only tests that exist under exactly that title, once in their file', () => {
    const missing = rows.flatMap(({ id, tests }) =>
      tests
        .filter(({ file, title }) => titlesIn(join(ROOT, file))?.filter((one) => one === title).length !== 1)
        .map(({ file, title }) => `${id}: ${file}: ${title}`),
    );
    expect(missing).toEqual([]);
  });

  it('are named by no test that means a row there is not', () => {
    const known = new Set(rows.map(({ id }) => id));
    const rowLike = [...tagged.keys()].filter((id) => /^[GDRHPFCBSXETN]\d{1,2}$/.test(id));
    expect(rowLike.filter((id) => !known.has(id))).toEqual([]);
  });

  it('are written out as a page that is not stale, and every row passed: `npm run conformance` writes it anew', () => {
    const page = readFileSync(new URL('CONFORMANCE.md', import.meta.url), 'utf8');
    const again = conformancePage(
      rows,
      (row) => testsOf(row, tagged),
      ({ id }) => resultOn(page, id),
    );
    expect(page).toBe(again);
    const open = rows.filter((row) => isApplicable(row) && !/^[1-9]\d* passed$/.test(resultOn(page, row.id)));
    expect(open.map(({ id }) => `${id}: ${resultOn(page, id)}`)).toEqual([]);
  });
});

describe('the title of a test', () => {
  it('is found again in what a run tells, placeholders filled in', () => {
    expect(
      titlePattern('${name} at ${hook}: a (valid) request').test('one at order-sign: a (valid) request'),
    ).toBe(true);
    expect(titlePattern('of %s is $kind').test('of a.b is c')).toBe(true);
    expect(titlePattern('is whole').test('is whole and more')).toBe(false);
  });
});

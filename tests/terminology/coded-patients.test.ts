import { describe, expect, it } from 'vitest';
import { ICD, concept } from '../facts/records.js';
import { CONDITIONS, NOT_READ, PROCEDURES } from './code-meanings.js';
import {
  billable,
  cases,
  check,
  codesOf,
  exactIcd,
  expected,
  factsOf,
  ranked,
  scopeOf,
} from './single-code.js';
import { pcs, publishedConcepts } from './terminology-files.js';

// Truth throughout: tests/published/terminology (codes as read in public sources); code-meanings.ts says which fact a
// concept means, from the notes of the concepts. Nothing here reads rules/value-sets.

const ALIASES: Readonly<Record<string, string>> = {
  [ICD]: 'urn:oid:2.16.840.1.113883.6.90',
  [pcs]: 'urn:oid:2.16.840.1.113883.6.4',
};
describe('a patient of whom one code is recorded', () => {
  it.each(cases)(
    'as a %s of %s has that fact and no other, on the side the code names',
    (kind, _name, codes) => {
      expect(codes.length).toBeGreaterThan(0);
      for (const given of codes)
        check(given, factsOf(kind, concept(given.system, given.code)), expected(given));
    },
  );

  it.each(cases.filter(([, , codes]) => codes.some(({ system }) => system in ALIASES)))(
    'as a %s of %s is read alike under another address, without dot and in lower case',
    (kind, _name, codes) => {
      for (const given of codes.filter(({ system }) => system in ALIASES)) {
        const written = given.code.replace('.', '').toLowerCase();
        check(given, factsOf(kind, concept(ALIASES[given.system] ?? '', ` ${written} `)), expected(given));
      }
    },
  );

  it('has the facts of both hips from a code whose title says bilateral', () => {
    for (const code of ['M16.0', 'M16.2', 'M93.004', 'Q65.1', 'Z96.643']) {
      const { left, right } = factsOf('condition', code);
      expect(left.present.length, code).toBeGreaterThan(0);
      expect(right.present, code).toEqual(left.present);
    }
  });
});

describe('every concept of conditions and procedures', () => {
  // Operations are read by kind, in tests/facts/procedure-history.test.ts.
  const OPERATIONS = [
    'tha-primary',
    'tha-revision',
    'conversion-to-tha',
    'hip-hemiarthroplasty',
    'hip-resurfacing',
  ];

  it('is either read or named with the reason why it is not', () => {
    const names = publishedConcepts.filter(({ kind }) => kind === 'condition' || kind === 'procedure');
    const placed = [...Object.keys({ ...CONDITIONS, ...PROCEDURES, ...NOT_READ }), ...OPERATIONS];
    expect(ranked(names.map((each) => each.concept))).toEqual(ranked(placed));
  });

  it('that is not read gives no fact but those of a concept that shares its codes', () => {
    for (const name of Object.keys(NOT_READ)) {
      for (const given of codesOf(name).flatMap((copy) => billable('condition', copy, exactIcd))) {
        check(
          { ...given, titled: false },
          factsOf('condition', concept(given.system, given.code)),
          expected(given),
        );
      }
    }
  });

  it('is a fact that exists', () => {
    for (const { facts } of Object.values({ ...CONDITIONS, ...PROCEDURES })) {
      for (const id of facts) expect(['hip', 'patient'], id).toContain(scopeOf(id));
    }
  });
});

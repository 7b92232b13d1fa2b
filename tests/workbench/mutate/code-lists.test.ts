import { describe, expect, it } from 'vitest';
import { readChecked } from '../../../src/workbench/checked-file.js';
import { codeMutants } from '../../../src/workbench/mutate/code-mutants.js';
import { CodeNoticer } from '../../../src/workbench/mutate/notice-codes.js';
import { observe } from '../../../src/workbench/mutate/observed.js';
import { SHIPPED } from '../../../src/workbench/shipped-fixtures.js';
import { codedCases } from '../../../src/workbench/trial/coded-cases.js';
import { meaningsSchema, publishedCodesSchema } from '../../../src/workbench/trial/code-schema.js';
import { CONDITIONS, PROCEDURES } from '../../terminology/code-meanings.js';
import type { Meaning } from '../../terminology/code-meanings.js';
import { april2026, publishedConcepts } from '../../terminology/terminology-files.js';
import { patientsAndEdges, setting, shipped, sound, sources } from '../shipped-cases.js';

// Truth: tests/published/terminology (codes as read in public sources), never the value sets that are thinned.
const published = sound(readChecked(SHIPPED.codes, publishedCodesSchema));
const meanings = sound(readChecked(SHIPPED.codeMeanings, meaningsSchema));
const coded = codedCases(published, meanings, shipped);

describe('single published codes', () => {
  it('are the cases: each says what its concept means, on a patient of whom nothing else is recorded', () => {
    expect(coded.length).toBeGreaterThan(500);
    const parkinson = coded.find(({ name }) => name.endsWith('icd-10-cm|G20.A'));
    expect(parkinson?.expects).toMatchObject({ kind: 'facts', present: ['parkinson-disease'], unclear: [] });
  });

  it('mean here what they mean to the tests of terminology', () => {
    const said = (as: string): unknown =>
      meanings.meanings
        .filter(
          (one) =>
            one.as === as &&
            !['tha-', 'hip-hemi', 'hip-resur', 'conversion'].some((start) => one.concept.startsWith(start)),
        )
        .map(({ concept, facts, not, unclear, sited, seventh }) => [
          concept,
          bare({ facts, not, unclear, sited, seventh }),
        ]);
    const told = (all: Readonly<Record<string, Meaning>>): unknown =>
      Object.entries(all).map(([concept, { facts, not, unclear, sited, seventh }]) => [
        concept,
        bare({ facts, not, unclear, sited, seventh }),
      ]);
    expect(said('condition')).toEqual(told(CONDITIONS));
    expect(said('procedure')).toEqual(told(PROCEDURES));
  });

  it('below a category are billable codes of the published release', () => {
    for (const { below = {} } of meanings.meanings) {
      for (const [category, codes] of Object.entries(below)) {
        expect(publishedConcepts.flatMap(({ codes: listed }) => listed.map(({ code }) => code))).toContain(
          category,
        );
        for (const code of codes) expect(april2026).toContain(code);
      }
    }
  });
});

function bare(value: object): unknown {
  return JSON.parse(JSON.stringify(value));
}

describe('a code taken out of a value set', () => {
  const { mutants, unread } = codeMutants(sources, shipped);
  const mutantOf = (id: string) => {
    const found = mutants.find((mutant) => mutant.id === id);
    if (!found) throw new Error(`no mutant ${id}`);
    return found;
  };
  const PARKINSON = 'code: value-sets/parkinson-disease.json compose.include[1].filter[0]: without G20.A';

  it('is noticed by the patient of whom that code is recorded', async () => {
    const { observed } = await observe(coded, setting);
    expect(observed.length).toBe(coded.length);
    const by = await new CodeNoticer(observed, setting.advisor).noticedBy(mutantOf(PARKINSON));
    expect(by).toBe('codes/condition http://hl7.org/fhir/sid/icd-10-cm|G20.A at order-sign');
  });

  it('is noticed by a test patient too, and only those with the code are read again', async () => {
    const some = patientsAndEdges.filter(
      ({ name }) => name === 'demo-parkinson-steep-cup' || name === 'textbook-hip',
    );
    const { observed } = await observe(some, setting);
    const noticer = new CodeNoticer(observed, setting.advisor);
    expect(await noticer.noticedBy(mutantOf(PARKINSON))).toBe('demo-parkinson-steep-cup at appointment-book');
  });

  it('survives where nobody carries it', async () => {
    const some = patientsAndEdges.filter(({ name }) => name === 'textbook-hip');
    const { observed } = await observe(some, setting);
    expect(await new CodeNoticer(observed, setting.advisor).noticedBy(mutantOf(PARKINSON))).toBeUndefined();
  });

  it('leaves the rulebook itself as it was, and every other set', () => {
    const { knowledge } = mutantOf(PARKINSON).rulebook();
    const coding = { system: 'http://hl7.org/fhir/sid/icd-10-cm', code: 'G20A1' };
    expect([...knowledge.valueSets.setsOf(coding)]).toEqual([]);
    expect([...shipped.knowledge.valueSets.setsOf(coding)]).toEqual(['parkinson-disease']);
    const dementia = { system: 'http://hl7.org/fhir/sid/icd-10-cm', code: 'F0390' };
    expect([...knowledge.valueSets.setsOf(dementia)]).toEqual(['dementia']);
  });

  it('is not asked of sets that nothing reads, which are named', () => {
    expect(unread).toContain('device-femoral-stem');
    expect(mutants.some(({ valueSet }) => unread.includes(valueSet))).toBe(false);
  });
});

import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { answerFor, mapEntries, testPatient } from './patients.js';
import type { Answer } from './patients.js';

const parkinson = testPatient('demo-parkinson-steep-cup').bundle;

function withParkinsonCode(system: string, code: string): JsonObject {
  return mapEntries(parkinson, (resource) => {
    const coding = (
      resource['code'] as { readonly coding?: readonly { readonly code?: string }[] } | undefined
    )?.coding?.[0];
    return coding?.code === 'G20.A1' ? { ...resource, code: { coding: [{ system, code }] } } : resource;
  });
}

/** A card without what depends on where a fact came from. */
function withoutProvenance(answer: Answer): unknown {
  return JSON.parse(
    JSON.stringify(answer.cards, (key: string, value: unknown) =>
      key === 'from' || key === 'evaluation' ? undefined : value,
    ),
  ) as unknown;
}

const ICD = 'http://hl7.org/fhir/sid/icd-10-cm';

describe('Parkinson disease', () => {
  it('gives the same cards as G20.A1 and as SNOMED 49049000, apart from provenance', async () => {
    for (const hook of ['appointment-book', 'order-sign']) {
      const icd = await answerFor(parkinson, hook);
      const snomed = await answerFor(withParkinsonCode('http://snomed.info/sct', '49049000'), hook);
      expect(icd.cards.map((card) => card.source.topic.code)).toContain('neurological-disease');
      expect(withoutProvenance(snomed)).toEqual(withoutProvenance(icd));
    }
  });

  it('is found however the ICD code is written: dot, case, older code, other names of the system', async () => {
    // Dot and case folded, aliases accepted: integration decisions §1; G20 stays for older records (terminology notes).
    for (const [system, code] of [
      [ICD, 'G20A1'],
      [ICD, 'g20.a1'],
      [ICD, 'G20'],
      [ICD, 'G20.B2'],
      ['urn:oid:2.16.840.1.113883.6.90', 'G20.A1'],
      ['http://terminology.hl7.org/CodeSystem/icd10CM', 'G20.A1'],
    ] as const) {
      const answer = await answerFor(withParkinsonCode(system, code), 'appointment-book');
      expect(
        answer.cards.map((card) => card.source.topic.code),
        code,
      ).toEqual(['neurological-disease']);
    }
  });

  it('is not found in parkinsonism, in an unknown system, or in a code that merely starts alike', async () => {
    for (const [system, code] of [
      [ICD, 'G20.C'],
      [ICD, 'G21.4'],
      ['http://example.org/local', 'G20.A1'],
      ['http://snomed.info/sct', '490490001'],
    ] as const) {
      expect((await answerFor(withParkinsonCode(system, code), 'appointment-book')).cards, code).toEqual([]);
    }
  });

  it('is no trigger when refuted, and no business of ours before a knee replacement', async () => {
    expect((await answerFor(testPatient('parkinson-refuted').bundle, 'appointment-book')).cards).toEqual([]);
    expect((await answerFor(testPatient('knee-replacement').bundle, 'appointment-book')).hips).toEqual([]);
  });
});

describe('a 28 mm head on a 12 mm neck', () => {
  it('has ratio 2.33 and 129.25° of oscillation, and speaks only when something on record makes dislocation likelier', async () => {
    const atRisk = await answerFor(parkinson, 'order-sign');
    const card = atRisk.cards.find(({ source }) => source.topic.code === 'head-neck-ratio-low-with-trigger');
    expect(card?.detail).toContain('ratio 2.33');
    const numbers = card?.extension['example.kotyle.advisory']['computed'] as readonly {
      readonly id: string;
      readonly value: number;
    }[];
    expect(numbers.find(({ id }) => id === 'head-neck-ratio')?.value).toBeCloseTo(28 / 12, 8);
    // Closed form 2 acos(neck / head), record osc-head-neck-table: 129.25.
    expect(numbers.find(({ id }) => id === 'oscillation-angle')?.value).toBeCloseTo(
      (2 * Math.acos(12 / 28) * 180) / Math.PI,
      5,
    );
    expect(numbers.find(({ id }) => id === 'oscillation-angle')?.value).toBeCloseTo(129.25, 2);
    expect((await answerFor(testPatient('small-head-without-trigger').bundle, 'order-sign')).cards).toEqual(
      [],
    );
  });

  it('offers only heads larger than the one planned', async () => {
    const larger = mapEntries(parkinson, (resource) =>
      JSON.stringify(resource['valueQuantity'] ?? {}).includes('"value":28')
        ? {
            ...resource,
            valueQuantity: { value: 32, unit: 'mm', system: 'http://unitsofmeasure.org', code: 'mm' },
          }
        : JSON.stringify(resource['valueQuantity'] ?? {}).includes('"value":12')
          ? {
              ...resource,
              valueQuantity: { value: 14, unit: 'mm', system: 'http://unitsofmeasure.org', code: 'mm' },
            }
          : resource,
    );
    const answer = await answerFor(larger, 'order-sign');
    const card = answer.cards.find(({ source }) => source.topic.code === 'head-neck-ratio-low-with-trigger');
    expect(card?.detail).not.toContain('32 mm head →');
    expect(card?.detail).toContain('36 mm head → ratio 2.57');
  });
});

describe('silence', () => {
  it('is what the textbook hip and the patient of whom nothing is known get on every entry', async () => {
    for (const name of ['textbook-hip', 'nothing-known']) {
      for (const hook of ['appointment-book', 'order-sign']) {
        const answer = await answerFor(testPatient(name).bundle, hook);
        expect(answer.cards).toEqual([]);
        expect(answer.hips.length).toBe(1);
      }
    }
  });
});

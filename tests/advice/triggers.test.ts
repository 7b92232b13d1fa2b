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

  describe('beside one entry of the history', () => {
    // Truth: clinical decisions §1, the list of booking triggers; published codes, the planned hip is the left one.
    const smallHead = testPatient('small-head-without-trigger').bundle;
    const PCS = 'http://www.cms.gov/Medicare/Coding/ICD10';

    async function cardBeside(resource: JsonObject): Promise<Answer['cards'][number] | undefined> {
      const entries = smallHead['entry'] as readonly { readonly resource: JsonObject }[];
      const subject = entries.find((entry) => entry.resource['subject'])?.resource['subject'];
      const added = { resource: { id: 'added', subject, ...resource } };
      const { cards } = await answerFor({ ...smallHead, entry: [...entries, added] }, 'order-sign');
      return cards.find(({ source }) => source.topic.code === 'head-neck-ratio-low-with-trigger');
    }

    const operation = (code: string): JsonObject => ({
      resourceType: 'Procedure',
      status: 'completed',
      code: { coding: [{ system: PCS, code }] },
      performedDateTime: '2011-05-02',
    });
    const diagnosis = (code: string): JsonObject => ({
      resourceType: 'Condition',
      code: { coding: [{ system: ICD, code }] },
    });

    it.each([
      ['an osteotomy', operation('0Q870ZZ'), 'earlier osteotomy at the hip'],
      [
        'a closed reduction of the prosthesis',
        operation('0SWBXJZ'),
        'earlier closed reduction of the prosthesis',
      ],
      ['a spacer', operation('0SRB0EZ'), 'earlier removal of a hip prosthesis'],
      [
        'a prosthesis removed, in the problem list',
        diagnosis('Z89.622'),
        'earlier removal of a hip prosthesis',
      ],
      ['a repaired hip tendon', operation('0LQK0ZZ'), 'earlier repair of a hip muscle or tendon'],
      ['an operated lumbar fusion', operation('0SG0070'), 'lumbar fusion'],
      ['radiotherapy of the pelvis', operation('DW060ZZ'), 'pelvic irradiation'],
      ['a fixation that failed', diagnosis('S72.002K'), 'failed fracture fixation'],
    ])('it speaks: %s', async (_what, resource, title) => {
      expect((await cardBeside(resource))?.detail).toContain(`on record: ${title}`);
    });

    it.each([
      ['a fixation that healed', operation('0QS704Z')],
      ['an osteotomy of the other hip', operation('0Q860ZZ')],
      ['a sacroiliac fusion', operation('0SG8074')],
      ['radiotherapy of a femur, which part not told', operation('DP090ZZ')],
      ['a dislocation coded for the native hip', diagnosis('S73.005A')],
      ['a strained hip muscle', diagnosis('S76.012A')],
      ['a complication of an orthopaedic implant', diagnosis('T84.89XA')],
      ['an osteotomy that was not done', { ...operation('0Q870ZZ'), status: 'not-done' }],
      ['Perthes disease', diagnosis('M91.12')],
      ['hypermobility', diagnosis('Q79.62')],
    ])('it stays silent: %s', async (_what, resource) => {
      expect(await cardBeside(resource)).toBeUndefined();
    });
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

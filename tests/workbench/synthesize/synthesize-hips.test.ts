import { readFileSync, readdirSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../../src/fhir/json.js';
import { DIAGNOSES, ORDERS, PROCEDURES } from '../../../src/workbench/synthesize/codes.js';
import type { DiagnosisCodes, ProcedureCodes } from '../../../src/workbench/synthesize/codes.js';
import { POPULATION } from '../../../src/workbench/synthesize/population.js';
import { PROFILES, synthesizeHips } from '../../../src/workbench/synthesize/synthesize-hips.js';
import type { Profile, SyntheticPatient } from '../../../src/workbench/synthesize/synthesize-hips.js';
import { synthesizeTruths } from '../../../src/workbench/synthesize/synthesize-truths.js';
import type { SyntheticTruth } from '../../../src/workbench/synthesize/truth.js';
import { answerTo, inputFor } from '../../advice/patients.js';
import { fhirIssues } from '../../oracles/fhir-validity.js';

const hips = (profile: Profile, count: number, seed = 1): readonly SyntheticPatient[] => [
  ...synthesizeHips({ seed, count, profile }),
];
const bytes = (patients: Iterable<SyntheticPatient>): string =>
  [...patients].map((patient) => JSON.stringify(patient)).join('\n');
const resources = ({ bundle }: SyntheticPatient): readonly JsonObject[] =>
  (bundle['entry'] as readonly { readonly resource: JsonObject }[]).map(({ resource }) => resource);
const ofType = (patient: SyntheticPatient, type: string): readonly JsonObject[] =>
  resources(patient).filter(({ resourceType }) => resourceType === type);
const isMeasure = (resource: JsonObject): boolean =>
  resource['resourceType'] === 'Observation' && JSON.stringify(resource).includes('measure-group');

/** What rules say of records that contradict themselves; a plan without the side of its order can't be read. */
const REVISION = ['earlier-dislocation-or-revision', 'revision-strategy-by-cause'];

const BROKEN = [
  'record-unreadable',
  'measure-implausible-or-conflicting',
  'hip-side-conflict',
  'other-patient-record',
  'plan-for-other-side',
];

describe.each(PROFILES)('%s hips', (profile) => {
  it('are the same bytes for the same seed and others for another', () => {
    const first = bytes(synthesizeHips({ seed: 11, count: 200, profile }));
    expect(bytes(synthesizeHips({ seed: 11, count: 200, profile }))).toBe(first);
    const other = bytes(synthesizeHips({ seed: 12, count: 200, profile })).split('\n');
    expect(other.filter((line) => first.includes(line))).toEqual([]);
  });

  it('are the same drawn alone, in a run, and in a run cut anywhere', () => {
    const run = hips(profile, 60, 5);
    for (const index of [0, 1, 17, 59]) {
      const [alone] = synthesizeHips({ seed: 5, count: 1, from: index, profile });
      expect(JSON.stringify(alone)).toBe(JSON.stringify(run[index]));
    }
    const cut = [
      ...synthesizeHips({ seed: 5, count: 23, profile }),
      ...synthesizeHips({ seed: 5, count: 37, from: 23, profile }),
    ];
    expect(bytes(cut)).toBe(bytes(run));
  });

  it('are valid FHIR R4, resource by resource and as bundles', () => {
    // Truth: independent implementations, two R4 validators and the checks both lack.
    const issues = hips(profile, 100, 3).flatMap((patient) =>
      [patient.bundle, ...resources(patient)].flatMap((resource) =>
        fhirIssues(resource).map((issue) => `${patient.id}: ${issue}`),
      ),
    );
    expect(issues).toEqual([]);
  }, 60_000);

  it.each(['appointment-book', 'order-sign'])(
    'are answered by advise() at %s',
    async (hook) => {
      for (const { id, bundle, truth } of hips(profile, 150, 9)) {
        const input = inputFor(bundle, hook);
        if (!input) throw new Error(`nothing to ask about ${id}`);
        const answer = await answerTo(input);
        expect(answer.faults, id).toEqual([]);
        const topics = answer.cards.map((card) => card.source.topic.code);
        const isSided = ofType({ id, bundle, truth }, 'ServiceRequest').some((order) => 'bodySite' in order);
        for (const topic of isSided ? BROKEN : BROKEN.slice(1)) expect(topics, id).not.toContain(topic);
        const isRevision = truth.operation.kind === 'revision';
        // One of the two cards speaks of any revision: which, is a matter of what is named behind it.
        const isTold = REVISION.some((topic) => topics.includes(topic));
        expect(isTold, id).toBe(isRevision);
      }
    },
    60_000,
  );

  it('name no person and refer only to themselves', () => {
    for (const patient of hips(profile, 50, 2)) {
      const text = JSON.stringify(patient.bundle);
      expect(text).not.toMatch(/"(name|address|telecom|identifier)":/);
      const ids = new Set(
        resources(patient).map(({ resourceType, id }) => `${String(resourceType)}/${String(id)}`),
      );
      expect(ids.size).toBe(resources(patient).length);
      for (const [, reference = ''] of text.matchAll(/"reference":"([^"]+)"/g))
        expect(ids).toContain(reference);
    }
  });
});

describe('a profile', () => {
  it('like a record leaves at least 95 % of 10,000 hips without any measure', () => {
    let measured = 0;
    for (const patient of synthesizeHips({ seed: 21, count: 10_000, profile: 'record-like' }))
      if (resources(patient).some(isMeasure)) measured += 1;
    // Truth: clinical decisions §1.
    expect(measured / 10_000).toBeLessThanOrEqual(0.05);
    expect(measured / 10_000).toBeGreaterThan(0.03);
  });

  it('like a record holds age, sex, indication, order and visit of every hip, body size and side of nearly all', () => {
    const patients = hips('record-like', 2000, 4);
    const share = (test: (patient: SyntheticPatient) => boolean): number =>
      patients.filter(test).length / patients.length;
    const orders = (patient: SyntheticPatient): readonly JsonObject[] => ofType(patient, 'ServiceRequest');
    for (const patient of patients) {
      expect(ofType(patient, 'Patient')).toHaveLength(1);
      expect(ofType(patient, 'Appointment')).toHaveLength(1);
      expect(orders(patient)).toHaveLength(1);
      expect(ofType(patient, 'Condition').length).toBeGreaterThan(0);
    }
    const withSide = share((patient) => orders(patient).some((order) => 'bodySite' in order));
    expect(withSide).toBeGreaterThan(0.95);
    expect(withSide).toBeLessThan(1);
    expect(share((patient) => JSON.stringify(patient.bundle).includes('39156-5'))).toBeGreaterThan(0.9);
  });

  it('fully planned holds plan, spine and either the femur or what is in place of every hip', () => {
    for (const patient of hips('fully-planned', 300, 4)) {
      const measures = resources(patient).filter(isMeasure);
      const has = (stage: string, code: string): boolean =>
        measures.some(
          (measure) =>
            JSON.stringify(measure['category']).includes(`"${stage}"`) &&
            JSON.stringify(measure['code']).includes(`"${code}"`),
        );
      for (const code of ['cup-inclination', 'cup-anteversion', 'head-diameter', 'surgical-approach'])
        expect(has('planned', code), `${patient.id} ${code}`).toBe(true);
      expect(has('planned', 'stem-anteversion')).toBe(!has('planned', 'component-retained'));
      for (const code of ['pelvic-incidence', 'app-tilt-standing', 'lumbar-lordosis-flexed-seated'])
        expect(has('native', code), `${patient.id} ${code}`).toBe(true);
      const isRevision = patient.truth.operation.kind === 'revision';
      expect(has('postoperative', 'stem-anteversion'), patient.id).toBe(isRevision);
      expect(has('native', 'native-femoral-anteversion'), patient.id).toBe(!isRevision);
    }
  });

  it('does not change the hip, only what is recorded of it', () => {
    const [sparse, whole] = PROFILES.map((profile) => hips(profile, 100, 8).map(({ truth }) => truth));
    expect(sparse).toEqual(whole);
    expect([...synthesizeTruths({ seed: 8, count: 100 })]).toEqual(whole);
  });
});

const POSTURES = ['standing', 'relaxed-seated', 'flexed-seated', 'supine'];

function numbersOf({ spine, femur, plan, inPlace }: SyntheticTruth): readonly (readonly [string, number])[] {
  return Object.entries({ ...spine, ...femur })
    .concat(Object.entries(plan), Object.entries(inPlace ?? {}))
    .flatMap(([name, value]: [string, unknown]) =>
      typeof value === 'number' ? [[name, value] as const] : [],
    );
}

describe('2,000 hips', () => {
  const patients = [...hips('record-like', 1000, 30), ...hips('fully-planned', 1000, 31)];
  const texts = patients.map(({ bundle }) => JSON.stringify(bundle));

  it('hold both sides and every kind of operation, each with its indication on the problem list', () => {
    const operations = patients.map(({ truth }) => truth.operation);
    expect(new Set(operations.map(({ side }) => side))).toEqual(new Set(['left', 'right']));
    expect(new Set(operations.map(({ kind }) => kind))).toEqual(
      new Set(['primary', 'revision', 'conversion']),
    );
    for (const { truth, bundle } of patients) {
      const order = JSON.stringify(bundle).includes(`"code":"${ORDERS[truth.operation.kind]}"`);
      expect(order).toBe(true);
    }
  });

  it('are coded in SNOMED CT, in ICD-10 and in both', () => {
    const systems = patients.map((patient) => {
      const text = JSON.stringify(ofType(patient, 'Condition')[0]?.['code']);
      return [text.includes('snomed'), text.includes('icd-10-cm')].join();
    });
    expect(new Set(systems)).toEqual(new Set(['true,false', 'false,true', 'true,true']));
    expect(texts.some((text) => text.includes('Medicare/Coding/ICD10'))).toBe(true);
  });

  it('carry noise: unrelated entries, entries taken back, the other hip', () => {
    const share = (pattern: RegExp): number =>
      texts.filter((text) => pattern.test(text)).length / texts.length;
    expect(share(/"code":"(I10|E11\.9|E78\.5)"/)).toBeGreaterThan(0.3);
    expect(share(/"code":"718-7"/)).toBeGreaterThan(0.1);
    expect(share(/entered-in-error/)).toBeGreaterThan(0.01);
    expect(share(/"code":"refuted"/)).toBeGreaterThan(0.005);
    const withOther = patients.filter(({ truth }) => truth.otherHip);
    expect(withOther.length).toBeGreaterThan(300);
  });

  it('hold only values inside the plausible limits, and a pelvis that turns as one body', () => {
    const limits = Object.entries(POPULATION.limits);
    let limited = 0;
    const outside: string[] = [];
    for (const { truth } of patients)
      for (const [measure, value] of numbersOf(truth)) {
        const name = measure.replace('app-tilt', 'pelvic-tilt');
        const [, range] =
          limits.find(
            ([limit]) => name === limit || POSTURES.some((posture) => name === `${limit}-${posture}`),
          ) ?? [];
        if (!range) continue;
        limited += 1;
        if (value < range[0] || value > range[1]) outside.push(`${truth.index} ${measure} ${value}`);
      }
    expect(outside).toEqual([]);
    expect(limited / patients.length).toBeGreaterThan(20);
    for (const { truth } of patients) {
      const { spine, plan } = truth;
      for (const posture of ['standing', 'relaxed-seated', 'flexed-seated'] as const)
        expect(spine[`spinopelvic-tilt-${posture}`] + spine[`sacral-slope-${posture}`]).toBe(
          spine['pelvic-incidence'],
        );
      const turned = spine['sacral-slope-standing'] - spine['sacral-slope-relaxed-seated'];
      expect(spine['app-tilt-standing'] - spine['app-tilt-relaxed-seated']).toBe(turned);
      expect(plan['head-diameter']).toBeLessThan(plan['cup-outer-diameter']);
      const liner = plan['mobile-liner-diameter'];
      if (liner !== undefined) {
        expect(liner).toBeGreaterThan(plan['head-diameter']);
        expect(liner).toBeLessThan(plan['cup-outer-diameter']);
      }
    }
  });

  it('have the age their birth date gives on the day of booking', () => {
    for (const { truth } of patients) {
      const { birthDate, age } = truth.person;
      const years = Number('2026') - Number(birthDate.slice(0, 4));
      expect(birthDate.slice(5) <= '11-24' ? years : years - 1).toBe(age);
    }
  });
});

describe('a code', () => {
  interface ValueSet {
    readonly compose?: {
      readonly include: readonly {
        readonly system: string;
        readonly concept?: readonly { readonly code: string }[];
        readonly filter?: readonly { readonly value: string }[];
      }[];
    };
  }
  const RULES = new URL('../../../rules/value-sets/', import.meta.url);
  const overlay = readdirSync(new URL('snomed-overlay/', RULES));
  const includes = (name: string) =>
    [`${name}.json`, ...(overlay.includes(`${name}.json`) ? [`snomed-overlay/${name}.json`] : [])].flatMap(
      (file) => (JSON.parse(readFileSync(new URL(file, RULES), 'utf8')) as ValueSet).compose?.include ?? [],
    );
  const isIn = (name: string, code: string): boolean => {
    const plain = code.replace('.', '');
    return includes(name).some(
      ({ concept = [], filter = [] }) =>
        concept.some((one) => one.code === code) ||
        filter.some(({ value }) => plain.startsWith(value.replace('.', ''))),
    );
  };
  const codesOf = (codes: string | Readonly<Record<string, string>>, snomed?: string): readonly string[] => [
    ...(typeof codes === 'string' ? [codes] : Object.values(codes)),
    ...(snomed === undefined ? [] : [snomed]),
  ];

  // Truth: the value sets the rulebook reads diagnoses and operations by.
  it.each(
    Object.entries<DiagnosisCodes>(DIAGNOSES).flatMap(([name, { icd10cm, snomed }]) =>
      codesOf(icd10cm, snomed).map((code) => [name, code] as const),
    ),
  )('of the diagnosis %s stands in the value set of that name: %s', (name, code) => {
    expect(isIn(name, code)).toBe(true);
  });

  it.each(
    Object.entries<ProcedureCodes>(PROCEDURES).flatMap(([name, { icd10pcs, snomed }]) =>
      codesOf(icd10pcs, snomed).map((code) => [name.replace('long-', ''), code] as const),
    ),
  )('of the operation %s stands in the value set of that name: %s', (name, code) => {
    expect(isIn(name, code)).toBe(true);
  });

  it.each(Object.entries(ORDERS))('of the order of a %s stands in its value set: %s', (kind, code) => {
    expect(isIn(`total-hip-${kind}`, code)).toBe(true);
  });
});

describe('a call', () => {
  it.each([
    ['seed', { seed: -1, count: 1 }],
    ['seed', { seed: 0.5, count: 1 }],
    ['count', { seed: 1, count: NaN }],
    ['from', { seed: 1, count: 1, from: 2 ** 53 }],
  ])('with an impossible %s is refused', (name, options) => {
    expect(() => [...synthesizeTruths(options)]).toThrow(new RegExp(`${name} must be a whole number`));
  });
});

import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { SERVICES } from '../../../src/advice/index.js';
import type { JsonObject } from '../../../src/fhir/json.js';
import { patientCall } from '../../../src/advice/patient-calls.js';
import { changedBundle } from '../../../src/workbench/trial/edge-bundle.js';
import { edgeCasesOf, readEdgeCases } from '../../../src/workbench/trial/edge-cases.js';
import type { Changes, Edges } from '../../../src/workbench/trial/edge-schema.js';
import { fhirIssues } from '../../oracles/fhir-validity.js';
import { measureCode, testPatient } from '../../advice/patients.js';
import { patients, patientsAndEdges, shipped } from '../shipped-cases.js';

const folder = mkdtempSync(join(tmpdir(), 'kotyle-edges-'));
afterAll(() => {
  rmSync(folder, { recursive: true });
});

const NOW = '2026-11-24T10:00:00Z';

function changed(name: string, ...changes: readonly Changes[]): readonly JsonObject[] {
  const bundle = changedBundle(testPatient(name).bundle, changes, NOW, shipped);
  return (bundle['entry'] as readonly { readonly resource: JsonObject }[]).map(({ resource }) => resource);
}

function measured(resources: readonly JsonObject[], code: string): readonly JsonObject[] {
  return resources.filter((resource) => measureCode(resource) === code);
}

describe('an edge case', () => {
  it('changes a value where it stands and nothing beside it', () => {
    const before = testPatient('textbook-hip').bundle['entry'] as readonly {
      readonly resource: JsonObject;
    }[];
    const after = changed('textbook-hip', { set: { 'cup-inclination': 58.1 } });
    expect(after.length).toBe(before.length);
    const [cup] = measured(after, 'cup-inclination');
    expect(cup).toMatchObject({
      basedOn: [{ reference: 'ServiceRequest/order-1' }],
      valueQuantity: { value: 58.1, unit: 'deg' },
    });
    const others = after.filter((resource) => resource !== cup);
    expect(before.map(({ resource }) => resource)).toEqual(expect.arrayContaining([...others]));
  });

  it('adds what was not recorded at the stage it belongs to, tied to the order or not, on its side', () => {
    const after = changed('textbook-hip', {
      set: {
        'abductor-strength': 3,
        'surgical-approach': 'posterior',
        'app-tilt-standing': -14,
        'skirted-head': true,
      },
    });
    const [strength] = measured(after, 'abductor-strength');
    expect(strength).toMatchObject({ valueInteger: 3, status: 'final' });
    expect(JSON.stringify(strength)).toContain('"native"');
    expect(strength).not.toHaveProperty('basedOn');
    const [approach] = measured(after, 'surgical-approach');
    expect(approach).toMatchObject({ basedOn: [{ reference: 'ServiceRequest/order-1' }] });
    expect(JSON.stringify(approach)).toContain('287679003');
    const [tilt] = measured(after, 'app-tilt-standing');
    expect(tilt).not.toHaveProperty('bodySite');
    expect(measured(after, 'skirted-head')[0]).toMatchObject({ valueBoolean: true });
  });

  it('takes a value away, adds one beside another, and tells stages apart', () => {
    expect(measured(changed('textbook-hip', { set: { 'head-diameter': null } }), 'head-diameter')).toEqual(
      [],
    );
    expect(measured(changed('textbook-hip', { set: { 'head-diameter+': 32 } }), 'head-diameter').length).toBe(
      2,
    );
    const plan = changed('cup-on-plan', { set: { 'cup-inclination@postoperative': 50 } });
    expect(
      measured(plan, 'cup-inclination').map((resource) => (resource['valueQuantity'] as JsonObject)['value']),
    ).toEqual([36, 50]);
  });

  it('states qualifiers, ranges and dates as a record would', () => {
    const [cup] = measured(
      changed('textbook-hip', {
        set: {
          'cup-inclination': {
            value: [48, 52],
            date: '2026-10-30',
            with: { method: 'ct', 'version-sign-confirmed': true },
          },
        },
      }),
      'cup-inclination',
    );
    expect(cup).toMatchObject({
      effectiveDateTime: '2026-10-30',
      valueRange: { low: { value: 48 }, high: { value: 52 } },
      component: [{ valueCodeableConcept: { coding: [{ code: 'ct' }] } }, { valueBoolean: true }],
    });
    expect(cup).not.toHaveProperty('valueQuantity');
  });

  it('adds diagnoses and operations, and says what was ordered', () => {
    const after = changed('textbook-hip', {
      order: 'sct|112727005',
      conditions: ['icd|G20.A1', { code: 'sct|52781008', side: 'right', date: '2001-02-03' }],
      procedures: [{ code: 'pcs|0SWBXJZ', date: null }],
      without: ['condition-1'],
    });
    const of = (type: string) => after.filter(({ resourceType }) => resourceType === type);
    expect(of('ServiceRequest')[0]).toMatchObject({ code: { coding: [{ code: '112727005' }] } });
    expect(of('Condition')).toMatchObject([
      { code: { coding: [{ system: 'http://hl7.org/fhir/sid/icd-10-cm', code: 'G20.A1' }] } },
      { bodySite: [{ coding: [{ code: '287579007' }] }], onsetDateTime: '2001-02-03' },
    ]);
    expect(of('Procedure')[0]).not.toHaveProperty('performedDateTime');
  });

  it('says who the patient is and what the laboratory found, in the unit of the fact', () => {
    const after = changed('textbook-hip', {
      patient: { birthDate: '1950-03-01', gender: null },
      laboratory: { 'loinc|39156-5': 31, 'loinc|1988-5': { value: 12, date: '2026-01-02' } },
    });
    const [patient] = after.filter(({ resourceType }) => resourceType === 'Patient');
    expect(patient).toMatchObject({ id: 'textbook-hip', birthDate: '1950-03-01' });
    expect(patient).not.toHaveProperty('gender');
    const found = after.filter(({ id }) => /^edge-\d+-(?:body-mass-index|crp)$/.test(String(id)));
    expect(found).toMatchObject([
      { valueQuantity: { value: 31, code: 'kg/m2' }, effectiveDateTime: '2026-10-12' },
      { valueQuantity: { value: 12, code: 'mg/L' }, effectiveDateTime: '2026-01-02' },
    ]);
  });

  it('is told with file and place when it does not fit its base', () => {
    const edges = (one: object, base = 'textbook-hip'): Edges => ({
      rule: 'abductor-loss',
      truth: 'clinician',
      groups: [{ about: 'x', base, hook: 'order-sign', cases: [{ expect: 'fires', teaches: 'x', ...one }] }],
    });
    const faults = (given: Edges): readonly string[] => {
      const read = edgeCasesOf(given, 'edges.json', { patients, rulebook: shipped });
      return read.ok ? [] : read.faults;
    };
    expect(faults(edges({}))).toEqual([]);
    expect(faults(edges({}, 'nobody'))).toEqual([
      'edges.json at groups[0].cases[0]: base: expected the name of a test patient, found nobody',
    ]);
    expect(faults(edges({ set: { 'cup-inclinaton': 50 } }))[0]).toMatch(
      /cases\[0\]: set: no measure is called cup-inclinaton/,
    );
    expect(faults(edges({ set: { 'cup-inclination': 50 } }, 'cup-on-plan'))[0]).toMatch(
      /2 of cup-inclination: name the stage/,
    );
    expect(faults(edges({ set: { 'abductor-strength': null } }))[0]).toMatch(
      /there is no abductor-strength to take away/,
    );
    expect(faults(edges({ without: ['order-9'] }))[0]).toMatch(/nothing called order-9/);
    expect(faults(edges({ order: 'sct|1' }, 'cup-on-plan'))[0]).toMatch(/no draft order/);
    expect(faults(edges({ laboratory: { 'loinc|0-0': 1 } }))[0]).toMatch(/no fact is read from loinc\|0-0/);
    expect(faults(edges({ without: ['Patient'], patient: {} }))[0]).toMatch(/the base has no Patient/);
    expect(faults({ ...edges({}), rule: 'abductor-los' })[0]).toMatch(
      /at rule: expected the id of a rule, found abductor-los/,
    );
  });

  it('of the shipped ones is a record that a client could send, unless it is meant to be unreadable', () => {
    const edges = patientsAndEdges.filter(({ name }) => name.startsWith('edges/'));
    expect(edges.length).toBeGreaterThan(500);
    for (const { name, bundle, hook } of edges) {
      const service = SERVICES.find((one) => one.hook === hook);
      expect(service && patientCall(bundle, service, shipped, ''), name).toBeDefined();
    }
    // One of each file is enough for the validators, which are slow.
    const first = new Map(edges.map((one) => [one.name.split(' ')[0], one]));
    for (const [file, { bundle }] of first)
      if (file !== 'edges/record-unreadable') expect(fhirIssues(bundle), file).toEqual([]);
  });
});

describe('a folder of edge cases', () => {
  const read = (): readonly string[] => {
    const cases = readEdgeCases(folder, { patients, rulebook: shipped });
    return cases.ok ? [] : cases.faults;
  };

  it('names a file that is broken, and what is expected in one that has another form', () => {
    expect(readEdgeCases(join(folder, 'none'), { patients, rulebook: shipped })).toMatchObject({
      ok: false,
      faults: [expect.stringMatching(/expected a folder of edge cases, found nothing at/)],
    });
    writeFileSync(join(folder, 'a.json'), '{ "rule": "abductor-loss",\n  "truth": }');
    expect(read()).toEqual([
      expect.stringMatching(/a\.json: broken JSON at line 2, column \d+: expected a value, found }/),
    ]);
    writeFileSync(
      join(folder, 'a.json'),
      JSON.stringify({ rule: 'abductor-loss', truth: 'guess', groups: [] }),
    );
    expect(read()[0]).toMatch(/a\.json at truth: expected one of published, closed-form/);
    mkdirSync(join(folder, 'sub'));
  });
});

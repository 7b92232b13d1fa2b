import { describe, expect, it } from 'vitest';
import type { PatientRecord } from '../../src/facts/patient-record.js';
import type { JsonObject } from '../../src/fhir/json.js';
import type { Sets } from './charts.js';
import {
  SERVER,
  VALUE,
  chart,
  device,
  factOf,
  prefetchOf,
  property,
  replacement,
  signing,
  valueOf,
} from './charts.js';
import { CODE, PATIENT, concept, condition, measure, order, quantity, snomed } from './records.js';

// Truth throughout: integration decisions §1, "Carriers without a body site" and "Side"; published, FHIR R4 Device,
// DeviceUseStatement, Procedure.focalDevice, BodyStructure.

const HEAD = device('head', [property('head-diameter', [36, 'mm'])]);
const FOCAL = { manipulated: { reference: 'Device/head' } };
const ACTION = 'http://hl7.org/fhir/device-action';

function action(code: string): JsonObject {
  return concept(ACTION, code);
}

function use(side: string, more: JsonObject = {}): JsonObject {
  return {
    resourceType: 'DeviceUseStatement',
    id: `use-${side}`,
    status: 'active',
    subject: PATIENT,
    device: { reference: 'Device/head' },
    bodySite: snomed(side === 'left' ? CODE.leftHipSite : CODE.rightHipSite),
    ...more,
  };
}

/** The head diameter of each hip in place, as read from the chart. */
function heads(sets: Sets): readonly unknown[] {
  const record = chart(sets);
  return (['left', 'right'] as const).map((hip) => valueOf(factOf(record, 'head-diameter', hip)));
}

const BOTH_REPLACED = [replacement('left'), replacement('right')];
const NONE = 'not-recorded';

describe('the side of an implant', () => {
  it('is that of the procedure that implanted it, which also dates it', () => {
    for (const reference of ['Device/head', `${SERVER}/Device/head`, 'Device/head/_history/2']) {
      for (const act of [{}, { action: action('implanted') }]) {
        const procedures = [
          replacement('left', { focalDevice: [{ manipulated: { reference }, ...act }] }),
          replacement('right'),
        ];
        const record = chart({ devices: [HEAD], procedures });
        expect(valueOf(factOf(record, 'head-diameter', 'left'))).toEqual([36, 36]);
        expect(valueOf(factOf(record, 'head-diameter', 'right'))).toBe(NONE);
        expect(factOf(record, 'head-diameter')).toMatchObject({
          stage: 'postoperative',
          provenance: { from: ['Device/head'], date: '2019-05-06' },
        });
      }
    }
  });

  it('is that of a statement of its use, when no procedure tells it', () => {
    const procedures = BOTH_REPLACED;
    expect(heads({ devices: [HEAD], procedures, deviceUses: [use('right')] })).toEqual([NONE, [36, 36]]);
    const wrong = use('right', { status: 'entered-in-error' });
    expect(heads({ devices: [HEAD], procedures, deviceUses: [wrong] })).toEqual([NONE, NONE]);
  });

  it('is that of its own property, when neither tells it', () => {
    const own = device('head', [property('head-diameter', [36, 'mm']), property('hip-side', 'left')]);
    expect(heads({ devices: [own], procedures: BOTH_REPLACED })).toEqual([[36, 36], NONE]);
  });

  it('is that of the device it is part of, one or two levels up', () => {
    const parent = (id: string): JsonObject => ({ parent: { reference: `Device/${id}` } });
    const prosthesis = device('whole', [property('hip-side', 'left')], { type: snomed('304120007') });
    const stem = device('stem', [], { ...parent('whole'), type: snomed('67270000') });
    const head = { ...HEAD, ...parent('stem') };
    const procedures = BOTH_REPLACED;
    expect(heads({ devices: [{ ...HEAD, ...parent('whole') }, prosthesis], procedures })).toEqual([
      [36, 36],
      NONE,
    ]);
    expect(heads({ devices: [head, stem, prosthesis], procedures })).toEqual([[36, 36], NONE]);
    // A ring has no side, and no end either.
    const ring = [{ ...HEAD, ...parent('stem') }, device('stem', [], parent('head'))];
    expect(heads({ devices: ring, procedures })).toEqual([NONE, NONE]);
  });

  it('told twice the same is told once, told differently it is used for neither hip, and that is said', () => {
    const implanted = (side: 'left' | 'right'): readonly JsonObject[] => [
      replacement(side, { focalDevice: [FOCAL] }),
      replacement(side === 'left' ? 'right' : 'left'),
    ];
    expect(heads({ devices: [HEAD], procedures: implanted('left'), deviceUses: [use('left')] })).toEqual([
      [36, 36],
      NONE,
    ]);
    const contradicted = { devices: [HEAD], procedures: implanted('left'), deviceUses: [use('right')] };
    expect(heads(contradicted)).toEqual([NONE, NONE]);
    // Unknown is said, never silent.
    expect(chart(contradicted).notes.map(({ from }) => from)).toContain('Device/head');
  });

  it('that nobody tells leaves the value out, and that is said', () => {
    const sets = { devices: [HEAD], procedures: BOTH_REPLACED };
    expect(heads(sets)).toEqual([NONE, NONE]);
    expect(chart(sets).notes.map(({ from }) => from)).toContain('Device/head');
  });

  it('of two hips done in one procedure is not told by it: one head is in one hip', () => {
    const both = replacement('left', {
      bodySite: [snomed(CODE.leftHipSite), snomed(CODE.rightHipSite)],
      focalDevice: [FOCAL],
    });
    expect(heads({ devices: [HEAD], procedures: [both] })).toEqual([NONE, NONE]);
    expect(heads({ devices: [HEAD], procedures: [both], deviceUses: [use('left')] })).toEqual([
      [36, 36],
      NONE,
    ]);
  });
});

describe('an implant that is not worn', () => {
  const worn: Sets = { devices: [HEAD], procedures: BOTH_REPLACED, deviceUses: [use('left')] };

  it.each<[string, Sets]>([
    ['inactive', { devices: [{ ...HEAD, status: 'inactive' }] }],
    ['entered in error', { devices: [{ ...HEAD, status: 'entered-in-error' }] }],
    ['of unknown status', { devices: [{ ...HEAD, status: 'unknown' }] }],
    ['under a modifier', { devices: [{ ...HEAD, modifierExtension: [{ url: 'http://example.org/not' }] }] }],
    [
      'taken out since',
      {
        procedures: [
          ...BOTH_REPLACED,
          replacement('left', {
            id: 'revision',
            code: snomed('112727005'),
            performedDateTime: '2024-02-03',
            focalDevice: [{ ...FOCAL, action: action('explanted') }],
          }),
        ],
      },
    ],
  ])('%s says nothing of the hip, and that is noted', (_what, more) => {
    const sets = { ...worn, ...more };
    expect(heads(worn)).toEqual([[36, 36], NONE]);
    expect(heads(sets)).toEqual([NONE, NONE]);
    const record = chart(sets);
    expect(record.notes.map(({ from }) => from)).toEqual(['Device/head']);
    expect(record.implanted.map(({ by }) => by)).not.toContain('device');
  });

  it('by a removal that was never done is worn', () => {
    const planned = replacement('left', {
      id: 'revision',
      status: 'preparation',
      focalDevice: [{ ...FOCAL, action: action('explanted') }],
    });
    expect(heads({ ...worn, procedures: [...BOTH_REPLACED, planned] })[0]).toEqual([36, 36]);
  });

  it('by this patient is none of theirs', () => {
    const stranger = { ...HEAD, patient: { reference: 'Patient/q' } };
    const record = chart({ ...worn, devices: [stranger] });
    expect(valueOf(factOf(record, 'head-diameter'))).toBe(NONE);
    expect(record.notes).toContainEqual({ from: 'Device/head', why: 'another patient' });
    expect(record.implanted.map(({ name }) => name)).not.toContain('Device/head');
    // A statement of use about somebody else does not give the side either.
    const foreignUse = use('left', { subject: { reference: 'Patient/q' } });
    expect(heads({ ...worn, deviceUses: [foreignUse] })).toEqual([NONE, NONE]);
  });
});

describe('the geometry of an implant', () => {
  function inPlace(...properties: readonly JsonObject[]): PatientRecord {
    const whole = device('whole', [...properties, property('hip-side', 'left')]);
    return chart({ devices: [whole], procedures: [replacement('left')] });
  }

  it('is read in its unit, and coded where it is a code', () => {
    const record = inPlace(
      property('head-diameter', [3.2, 'cm']),
      property('neck-shaft-angle', [131, 'deg']),
      property('liner-type', 'elevated-rim'),
      property('bearing-couple', 'metal-on-metal'),
    );
    expect(valueOf(factOf(record, 'head-diameter'))).toEqual([32, 32]);
    expect(valueOf(factOf(record, 'neck-shaft-angle'))).toEqual([131, 131]);
    expect(valueOf(factOf(record, 'liner-type'))).toEqual(['elevated-rim']);
    expect(valueOf(factOf(record, 'bearing-couple'))).toEqual(['metal-on-metal']);
    expect(record.hips.flatMap(({ findings }) => findings)).toEqual([]);
  });

  it('states a flag as present or absent, and nothing else as one', () => {
    expect(valueOf(factOf(inPlace(property('skirted-head', 'present')), 'skirted-head'))).toBe(true);
    expect(valueOf(factOf(inPlace(property('skirted-head', 'absent')), 'skirted-head'))).toBe(false);
    const odd = inPlace(property('skirted-head', 'left'));
    expect(valueOf(factOf(odd, 'skirted-head'))).toBe(NONE);
    expect(odd.notes.map(({ why }) => why).join()).toContain('skirted-head');
  });

  it('that no device has is left out: a cup’s angles are how it was placed', () => {
    const record = inPlace(property('cup-inclination', [60, 'deg']));
    expect(valueOf(factOf(record, 'cup-inclination'))).toBe(NONE);
    expect(record.notes.map(({ why }) => why).join()).toContain('cup-inclination');
  });

  it('stated by two values in one property is not read', () => {
    const two = property('head-diameter', [36, 'mm']);
    const [first] = two['valueQuantity'] as readonly JsonObject[];
    const record = inPlace({ ...two, valueQuantity: [first, { ...first, value: 28 }] });
    expect(valueOf(factOf(record, 'head-diameter'))).toBe(NONE);
    expect(record.notes.map(({ why }) => why).join()).toContain('head-diameter');
  });

  it('that is impossible is refused by name', () => {
    const record = inPlace(property('head-diameter', [360, 'mm']));
    expect(valueOf(factOf(record, 'head-diameter'))).toBe('refused');
    expect(record.hips.flatMap(({ findings }) => findings.map(({ kind }) => kind))).toEqual(['implausible']);
  });

  it('is compared with what was measured in the same hip', () => {
    const measured = measure('head-diameter', quantity(28, 'mm'), {
      stages: ['postoperative'],
      date: '2019-05-06',
    });
    const whole = device('whole', [property('head-diameter', [36, 'mm']), property('hip-side', 'left')]);
    const record = chart({ devices: [whole], procedures: [replacement('left')], measures: [measured] });
    expect(record.hips.flatMap(({ findings }) => findings.map(({ kind }) => kind))).toEqual(['conflicting']);
  });
});

describe('a hip is known to be replaced', () => {
  const implanted = (sets: Sets): readonly string[] =>
    chart(sets).implanted.map(
      ({ by, side }) => `${by} ${side.kind === 'sides' ? side.sides.join('+') : side.kind}`,
    );

  it('by a procedure, an active implant or a diagnosis that only a replaced hip can have', () => {
    expect(implanted({ procedures: [replacement('left')] })).toEqual(['procedure left']);
    const own = device('head', [property('hip-side', 'right')]);
    expect(implanted({ devices: [own] })).toEqual(['device right']);
    // ICD-10-CM Z96.642: presence of left artificial hip joint.
    expect(implanted({ conditions: [condition('z', 'Z96.642')] })).toEqual(['condition left']);
    expect(implanted({ conditions: [condition('z', 'M16.12')] })).toEqual([]);
    // A device of another kind, without any measure of ours, is no hip implant.
    const pacemaker = device('pacemaker', [], { type: snomed('14106009') });
    expect(implanted({ devices: [pacemaker] })).toEqual([]);
  });

  it('by another operation never', () => {
    // Lumbar fusion, explantation of a hip prosthesis, fixation of a femoral neck.
    for (const code of ['50172003', '447736005', '265132005']) {
      expect(implanted({ procedures: [replacement('left', { code: snomed(code) })] }), code).toEqual([]);
    }
  });
});

describe('a side given by a body structure', () => {
  const LEFT_HIP = {
    resourceType: 'BodyStructure',
    id: 'structure',
    patient: PATIENT,
    location: snomed(CODE.hipSite),
    locationQualifier: [snomed(CODE.left)],
  };
  const BODY_SITE = 'http://hl7.org/fhir/StructureDefinition/bodySite';
  const TARGET = 'http://hl7.org/fhir/StructureDefinition/procedure-targetBodyStructure';
  const LATERALITY = 'http://hl7.org/fhir/StructureDefinition/observation-structureLaterality';

  function points(url: string, reference: string): JsonObject {
    return { extension: [{ url, valueReference: { reference } }] };
  }

  function sides(record: PatientRecord): readonly unknown[] {
    return record.operations.map(({ side }) => side);
  }

  const LEFT_SIDE = [{ kind: 'sides', sides: ['left'] }];

  it('contained in the order, on its body site or on the order itself', () => {
    const contained = [LEFT_HIP];
    const onSite = order({ contained, bodySite: [points(BODY_SITE, '#structure')] });
    const onOrder = order({ contained, bodySite: undefined, ...points(TARGET, '#structure') });
    for (const one of [onSite, onOrder])
      expect(sides(signing([JSON.parse(JSON.stringify(one)) as JsonObject]))).toEqual(LEFT_SIDE);
  });

  it('sent beside the order in its Bundle', () => {
    for (const reference of ['BodyStructure/structure', `${SERVER}/BodyStructure/structure`]) {
      const sited = order({ bodySite: [points(BODY_SITE, reference)] });
      expect(sides(signing([sited, LEFT_HIP])), reference).toEqual(LEFT_SIDE);
    }
    const missing = order({ bodySite: [points(BODY_SITE, 'BodyStructure/elsewhere')] });
    expect(sides(signing([missing, LEFT_HIP]))).toEqual([{ kind: 'unknown' }]);
  });

  it('that says another side than the order’s own body site is a contradiction', () => {
    const both = order({
      contained: [LEFT_HIP],
      code: snomed(CODE.totalHipRight),
      bodySite: [points(BODY_SITE, '#structure')],
    });
    const record = signing([both]);
    expect(sides(record)).toMatchObject([{ kind: 'conflict' }]);
    expect(record.hips.flatMap(({ findings }) => findings.map(({ kind }) => kind))).toEqual([
      'side-contradiction',
    ]);
  });

  it('of a procedure done tells which hip was replaced', () => {
    const { bodySite, ...bare } = replacement('left', points(TARGET, '#structure'));
    expect(bodySite).toBeDefined();
    const record = chart({ procedures: [{ ...bare, contained: [LEFT_HIP] }] });
    expect(record.implanted).toMatchObject([{ side: { sides: ['left'] } }]);
  });

  it('of an observation, or its laterality stated beside the site, is its side', () => {
    const laterality = { extension: [{ url: LATERALITY, valueCodeableConcept: snomed(CODE.right) }] };
    const observed = measure('cup-inclination', quantity(41, 'deg'), {
      stages: ['postoperative'],
      more: { bodySite: snomed(CODE.hipSite), ...laterality },
    });
    const structured = measure('cup-inclination', quantity(41, 'deg'), {
      stages: ['postoperative'],
      more: { contained: [LEFT_HIP], bodySite: points(BODY_SITE, '#structure') },
    });
    const of = (one: JsonObject): readonly unknown[] => {
      const record = chart({ procedures: BOTH_REPLACED, measures: [one] });
      return (['left', 'right'] as const).map((hip) => valueOf(factOf(record, 'cup-inclination', hip)));
    };
    expect(of(observed)).toEqual([NONE, [41, 41]]);
    expect(of(structured)).toEqual([[41, 41], NONE]);
  });
});

describe('implants not wholly read', () => {
  it('leave a value in place unknown, not unrecorded', () => {
    const { devices, ...others } = prefetchOf({ procedures: [replacement('left')] });
    expect(devices).toBeDefined();
    expect(valueOf(factOf(chart({}, { ...others, devices: undefined }), 'head-diameter'))).toBe(
      'set-not-read',
    );
    expect(concept(VALUE, 'left')['coding']).toHaveLength(1);
  });
});

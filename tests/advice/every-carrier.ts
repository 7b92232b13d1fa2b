import type { JsonObject } from '../../src/fhir/json.js';

/**
 * One invented patient in whom every kind of resource says something: the left hip has a replacement with implants on
 * record and is to be revised, the right one is to be replaced. The plan of the left stands in implant orders, that of
 * the right in the questionnaire, and measures of every stage beside both.
 */

const BASE = 'https://kotyle.example/fhir';
const SYSTEM = `${BASE}/CodeSystem`;
const SNOMED = 'http://snomed.info/sct';
const ICD = 'http://hl7.org/fhir/sid/icd-10-cm';
const UCUM = 'http://unitsofmeasure.org';
export const CARRIER_PATIENT = 'every-carrier';
const SITES = { left: '287679003', right: '287579007' } as const;
type Side = keyof typeof SITES;

const subject = { reference: `Patient/${CARRIER_PATIENT}` };
const concept = (system: string, code: string): JsonObject => ({ coding: [{ system, code }] });
const measureCode = (code: string): JsonObject => concept(`${SYSTEM}/hip-measure`, code);
const ownValue = (code: string): JsonObject => ({ system: `${SYSTEM}/hip-measure-value`, code });
const site = (side: Side): JsonObject => concept(SNOMED, SITES[side]);
const quantity = (value: number, unit: string): JsonObject => ({ value, unit, system: UCUM, code: unit });

function order(id: string, code: string, side: Side, status: string): JsonObject {
  return {
    resourceType: 'ServiceRequest',
    id,
    status,
    intent: 'order',
    code: concept(SNOMED, code),
    bodySite: [site(side)],
    subject,
    authoredOn: '2026-11-01',
  };
}

function implantOrder(id: string, code: string, parameters: readonly JsonObject[]): JsonObject {
  return {
    resourceType: 'DeviceRequest',
    id,
    status: 'draft',
    intent: 'order',
    codeCodeableConcept: concept(SNOMED, code),
    subject,
    basedOn: [{ reference: 'ServiceRequest/revise-left' }],
    authoredOn: '2026-11-02',
    parameter: parameters,
  };
}

const parameter = (code: string, value: number, unit: string): JsonObject => ({
  code: measureCode(code),
  valueQuantity: quantity(value, unit),
});

function implant(id: string, code: string, properties: readonly JsonObject[]): JsonObject {
  return {
    resourceType: 'Device',
    id,
    status: 'active',
    type: concept(SNOMED, code),
    patient: subject,
    property: properties,
  };
}

const property = (code: string, value: number, unit: string): JsonObject => ({
  type: measureCode(code),
  valueQuantity: [quantity(value, unit)],
});

/** A measure as an Observation, with its stage and the record's own category. */
export function staged(
  code: string,
  side: Side,
  stage: string,
  value: JsonObject,
  components: Readonly<Record<string, string>> = {},
): JsonObject {
  const planned = stage === 'planned';
  return {
    resourceType: 'Observation',
    id: `${stage}-${side}-${code}`,
    status: planned ? 'preliminary' : 'final',
    category: [
      concept(`${SYSTEM}/measure-stage`, stage),
      concept(`${SYSTEM}/measure-group`, 'hip-stability'),
      concept('http://terminology.hl7.org/CodeSystem/observation-category', 'imaging'),
    ],
    code: measureCode(code),
    subject,
    effectiveDateTime: planned ? '2026-11-03' : '2019-06-01',
    bodySite: site(side),
    ...(planned && {
      basedOn: [{ reference: `ServiceRequest/${side === 'left' ? 'revise-left' : 'replace-right'}` }],
    }),
    ...value,
    component: Object.entries(components).map(([name, given]) => ({
      code: measureCode(name),
      valueCodeableConcept: { coding: [ownValue(given)] },
    })),
  };
}

const degrees = (value: number): JsonObject => ({ valueQuantity: quantity(value, 'deg') });
const millimetres = (value: number): JsonObject => ({ valueQuantity: quantity(value, 'mm') });
const coded = (code: string): JsonObject => ({ valueCodeableConcept: { coding: [ownValue(code)] } });

const answer = (linkId: string, value: JsonObject): JsonObject => ({ linkId, answer: [value] });

/** The plan of the right hip, as answered. */
const plan: JsonObject = {
  resourceType: 'QuestionnaireResponse',
  id: 'plan-right',
  questionnaire: `${BASE}/Questionnaire/hip-plan|2026.11.0`,
  status: 'completed',
  subject,
  basedOn: [{ reference: 'ServiceRequest/replace-right' }],
  authored: '2026-11-04T09:00:00Z',
  item: [
    {
      linkId: 'hip',
      item: [
        answer('hip.side', { valueCoding: ownValue('right') }),
        answer('hip.angle-definition', { valueCoding: ownValue('radiographic') }),
        answer('hip.reference-plane', { valueCoding: ownValue('app') }),
        answer('cup-inclination', { valueQuantity: quantity(56, 'deg') }),
        answer('cup-anteversion', { valueQuantity: quantity(12, 'deg') }),
        answer('head-diameter', { valueQuantity: quantity(28, 'mm') }),
        answer('neck-diameter', { valueQuantity: quantity(14, 'mm') }),
        answer('stem-anteversion', { valueQuantity: quantity(10, 'deg') }),
        answer('surgical-approach', { valueCoding: ownValue('posterior') }),
      ],
    },
  ],
};

function problem(id: string, system: string, code: string, side?: Side): JsonObject {
  const status = (name: string, value: string): JsonObject =>
    concept(`http://terminology.hl7.org/CodeSystem/condition-${name}`, value);
  return {
    resourceType: 'Condition',
    id,
    clinicalStatus: status('clinical', 'active'),
    verificationStatus: status('ver-status', 'confirmed'),
    code: concept(system, code),
    ...(side && { bodySite: [site(side)] }),
    subject,
    onsetDateTime: '2021-02-01',
  };
}

const RESOURCES: readonly JsonObject[] = [
  { resourceType: 'Patient', id: CARRIER_PATIENT, gender: 'male', birthDate: '1951-04-02' },
  {
    resourceType: 'Encounter',
    id: 'clinic',
    status: 'in-progress',
    class: { system: 'http://terminology.hl7.org/CodeSystem/v3-ActCode', code: 'AMB' },
    subject,
  },
  problem('parkinson', ICD, 'G20.A1'),
  problem('dislocated', ICD, 'T84.021A'),
  problem('arthritis', ICD, 'M16.11'),
  {
    resourceType: 'Procedure',
    id: 'replaced-left',
    status: 'completed',
    code: concept(SNOMED, '52734007'),
    bodySite: [site('left')],
    subject,
    performedDateTime: '2019-05-20',
    focalDevice: [
      {
        action: concept('http://hl7.org/fhir/device-action', 'implanted'),
        manipulated: { reference: 'Device/cup' },
      },
    ],
  },
  implant('cup', '67270000', [
    property('cup-inclination', 58, 'deg'),
    property('cup-outer-diameter', 54, 'mm'),
  ]),
  implant('head', '304121006', [property('head-diameter', 28, 'mm'), property('neck-diameter', 14, 'mm')]),
  {
    resourceType: 'DeviceUseStatement',
    id: 'head-use',
    status: 'active',
    subject,
    device: { reference: 'Device/head' },
    bodySite: site('left'),
  },
  order('revise-left', '112727005', 'left', 'draft'),
  order('replace-right', '52734007', 'right', 'draft'),
  implantOrder('cup-left', '67270000', [
    parameter('cup-inclination', 59, 'deg'),
    parameter('cup-anteversion', 36, 'deg'),
  ]),
  implantOrder('head-left', '304121006', [parameter('head-diameter', 36, 'mm')]),
  {
    resourceType: 'Appointment',
    id: 'theatre',
    status: 'proposed',
    serviceType: [concept(SNOMED, '52734007')],
    basedOn: [{ reference: 'ServiceRequest/revise-left' }],
    participant: [{ actor: subject, status: 'accepted' }],
  },
  plan,
  staged('stem-anteversion', 'left', 'planned', degrees(-8), { 'version-reference': 'posterior-condylar' }),
  staged('leg-length-change', 'left', 'planned', millimetres(16)),
  staged('femoral-offset-change', 'left', 'planned', millimetres(-9)),
  staged('neck-diameter', 'left', 'planned', millimetres(14)),
  staged('leg-length-discrepancy', 'left', 'native', millimetres(2)),
  staged('cup-inclination', 'left', 'postoperative', degrees(58), {
    method: 'ct',
    'angle-definition': 'radiographic',
  }),
  staged('cup-anteversion', 'left', 'postoperative', degrees(2), {
    method: 'ct',
    'angle-definition': 'radiographic',
  }),
  staged('wear-pattern', 'left', 'postoperative', coded('eccentric')),
  staged('sacral-slope-standing', 'right', 'native', degrees(40)),
  staged('sacral-slope-relaxed-seated', 'right', 'native', degrees(36)),
  staged('app-tilt-standing', 'right', 'native', degrees(-15)),
  {
    resourceType: 'Observation',
    id: 'weight',
    status: 'final',
    code: concept('http://loinc.org', '29463-7'),
    subject,
    effectiveDateTime: '2026-10-01',
    valueQuantity: quantity(92, 'kg'),
  },
  {
    resourceType: 'Observation',
    id: 'crp',
    status: 'final',
    code: concept('http://loinc.org', '1988-5'),
    subject,
    effectiveDateTime: '2026-10-01',
    valueQuantity: quantity(18, 'mg/L'),
  },
];

/** The whole record as one Bundle; drafts and the visit are what is signed and booked. */
export function everyCarrier(): JsonObject {
  return {
    resourceType: 'Bundle',
    type: 'collection',
    entry: RESOURCES.map((resource) => ({
      fullUrl: `https://record.example/fhir/${String(resource['resourceType'])}/${String(resource['id'])}`,
      resource,
    })),
  };
}

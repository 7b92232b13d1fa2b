import { describe, expect, it } from 'vitest';
import { SERVICES } from '../../../src/advice/index.js';
import { asObject, objectsIn } from '../../../src/fhir/json.js';
import type { JsonObject } from '../../../src/fhir/json.js';
import { patientCall } from '../../../src/advice/patient-calls.js';
import { identifyingValues, leftOver } from '../../../src/workbench/trial/record/left-over.js';
import { recordCase } from '../../../src/workbench/trial/record/record-case.js';
import type { Recorded } from '../../../src/workbench/trial/record/record-case.js';
import { withoutIdentifiers } from '../../../src/workbench/trial/record/remove-identifiers.js';
import { shiftedDate } from '../../../src/workbench/trial/record/shift-date.js';
import { mapEntries, testPatient } from '../../advice/patients.js';
import { fhirIssues } from '../../oracles/fhir-validity.js';
import { patients, setting, shipped, sound } from '../shipped-cases.js';

const SERVER = 'https://fhir.st-elsewhere.example/r4';
const AT = '2026-11-24T10:00:00Z';

/** Everything in this record by which somebody could be known; none of it may be met again. */
const IDENTIFIERS = [
  'MRN-4711-0815',
  '943-476-5919',
  'Quincey',
  'Featherstonehaugh',
  'Miss Q. Featherstonehaugh',
  '+44 20 7946 0857',
  'quincey.f@mail.example',
  '17 Mulberry Close',
  'Ambridge',
  'BO4 7XX',
  'pat-8f3c',
  'ord-55121',
  'cond-77a',
  'obs-1d2e',
  'dev-00219',
  'Practitioner/dr-okonkwo',
  'dr-okonkwo',
  'Okonkwo',
  'enc-3141',
  'REQ-2026-118',
  'LOT-A77-XK',
  'SN-99812-ZZ',
  'her daughter Philomena drives her',
  'Philomena',
  '1951-09-30',
  '2026-11-03',
  '2019-03-01',
  'data:image/png;base64,iVBORw0KGgo',
  'st-elsewhere',
] as const;

const subject = { reference: `${SERVER}/Patient/pat-8f3c`, display: 'Miss Q. Featherstonehaugh' };

const RECORD: readonly JsonObject[] = [
  {
    resourceType: 'Patient',
    id: 'pat-8f3c',
    meta: { versionId: '7', source: 'pat-8f3c' },
    text: {
      status: 'generated',
      div: '<div xmlns="http://www.w3.org/1999/xhtml">Quincey Featherstonehaugh</div>',
    },
    identifier: [
      { system: 'https://st-elsewhere.example/mrn', value: 'MRN-4711-0815' },
      { system: 'https://fhir.nhs.uk/Id/nhs-number', value: '943-476-5919' },
    ],
    name: [{ family: 'Featherstonehaugh', given: ['Quincey'], text: 'Miss Q. Featherstonehaugh' }],
    telecom: [
      { system: 'phone', value: '+44 20 7946 0857' },
      { system: 'email', value: 'quincey.f@mail.example' },
    ],
    gender: 'female',
    birthDate: '1951-09-30',
    _birthDate: {
      extension: [
        {
          url: 'http://hl7.org/fhir/StructureDefinition/patient-birthTime',
          valueDateTime: '1951-09-30T04:12:00Z',
        },
      ],
    },
    address: [{ line: ['17 Mulberry Close'], city: 'Ambridge', postalCode: 'BO4 7XX' }],
    photo: [{ contentType: 'image/png', url: 'data:image/png;base64,iVBORw0KGgo' }],
    contact: [{ name: { text: 'Philomena' }, telecom: [{ value: '+44 20 7946 0857' }] }],
    generalPractitioner: [{ reference: 'Practitioner/dr-okonkwo', display: 'Dr Okonkwo' }],
  },
  {
    resourceType: 'Condition',
    id: 'cond-77a',
    clinicalStatus: {
      coding: [{ system: 'http://terminology.hl7.org/CodeSystem/condition-clinical', code: 'active' }],
    },
    verificationStatus: {
      coding: [{ system: 'http://terminology.hl7.org/CodeSystem/condition-ver-status', code: 'confirmed' }],
    },
    code: {
      coding: [{ system: 'http://hl7.org/fhir/sid/icd-10-cm', code: 'G20.A1', display: 'Featherstonehaugh' }],
      text: 'her daughter Philomena drives her',
    },
    subject,
    onsetDateTime: '2019-03-01',
    recorder: { reference: 'Practitioner/dr-okonkwo' },
    note: [{ text: 'her daughter Philomena drives her' }],
  },
  {
    resourceType: 'Observation',
    id: 'obs-1d2e',
    status: 'preliminary',
    basedOn: [{ reference: `${SERVER}/ServiceRequest/ord-55121` }],
    category: [
      { coding: [{ system: 'https://kotyle.example/fhir/CodeSystem/measure-stage', code: 'planned' }] },
      { coding: [{ system: 'https://kotyle.example/fhir/CodeSystem/measure-group', code: 'hip-stability' }] },
    ],
    code: {
      coding: [{ system: 'https://kotyle.example/fhir/CodeSystem/hip-measure', code: 'cup-inclination' }],
    },
    subject,
    effectiveDateTime: '2026-11-03T09:15:00Z',
    valueQuantity: { value: 62, unit: 'deg', system: 'http://unitsofmeasure.org', code: 'deg' },
    bodySite: { coding: [{ system: 'http://snomed.info/sct', code: '287679003' }] },
    performer: [{ display: 'Okonkwo' }],
  },
  {
    resourceType: 'Device',
    id: 'dev-00219',
    status: 'active',
    lotNumber: 'LOT-A77-XK',
    serialNumber: 'SN-99812-ZZ',
    udiCarrier: [{ carrierHRF: '(21)SN-99812-ZZ', deviceIdentifier: 'MRN-4711-0815' }],
    patient: { identifier: { value: 'MRN-4711-0815' }, reference: 'Patient/pat-8f3c' },
  },
];

const ORDER: JsonObject = {
  resourceType: 'ServiceRequest',
  id: 'ord-55121',
  status: 'draft',
  intent: 'order',
  requisition: { system: 'https://st-elsewhere.example/requisitions', value: 'REQ-2026-118' },
  code: {
    coding: [{ system: 'http://snomed.info/sct', code: '52734007', display: 'Total hip' }],
    text: 'left hip, Miss Q. Featherstonehaugh',
  },
  bodySite: [{ coding: [{ system: 'http://snomed.info/sct', code: '287679003' }] }],
  subject,
  encounter: { reference: 'Encounter/enc-3141' },
  authoredOn: '2026-11-03T08:00:00Z',
  requester: { reference: 'Practitioner/dr-okonkwo', display: 'Dr Okonkwo' },
  patientInstruction: 'her daughter Philomena drives her',
};

function searchset(...types: readonly string[]): JsonObject {
  const found = RECORD.filter(({ resourceType }) => types.includes(String(resourceType)));
  return {
    resourceType: 'Bundle',
    type: 'searchset',
    entry: found.map((resource) => ({
      fullUrl: `${SERVER}/${String(resource['resourceType'])}/${String(resource['id'])}`,
      resource,
    })),
  };
}

const REQUEST: JsonObject = {
  hook: 'order-sign',
  hookInstance: '7c1de7a5-0c6f-4a0e-8f0b-2d8d3a5f9b11',
  fhirServer: SERVER,
  fhirAuthorization: { access_token: 'MRN-4711-0815' },
  context: {
    userId: 'Practitioner/dr-okonkwo',
    patientId: 'pat-8f3c',
    encounterId: 'enc-3141',
    draftOrders: { resourceType: 'Bundle', type: 'collection', entry: [{ resource: ORDER }] },
  },
  prefetch: {
    patient: RECORD[0],
    conditions: searchset('Condition'),
    procedures: searchset('Procedure'),
    measures: searchset('Observation'),
    observations: searchset(),
    devices: searchset('Device'),
    deviceUses: searchset(),
    serviceRequests: searchset(),
    deviceRequests: searchset(),
    questionnaireResponses: searchset(),
  },
};

async function recorded(source: JsonObject = REQUEST, shiftDays = -517): Promise<Recorded> {
  return sound(
    await recordCase({
      source,
      name: 'recorded-one',
      teaches: 'A recorded case.',
      at: AT,
      shiftDays,
      setting,
    }),
  );
}

const resources = (bundle: JsonObject): readonly JsonObject[] =>
  objectsIn(bundle['entry']).flatMap(({ resource }) => {
    const found = asObject(resource);
    return found ? [found] : [];
  });
const ofType = (bundle: JsonObject, type: string): JsonObject | undefined =>
  resources(bundle).find(({ resourceType }) => resourceType === type);

describe('a test patient recorded from a request', () => {
  it('holds nothing of what could name the patient, wherever it stood', async () => {
    const { patient } = await recorded();
    const text = JSON.stringify(patient).toLowerCase();
    for (const identifier of IDENTIFIERS) expect(text, identifier).not.toContain(identifier.toLowerCase());
    // They were there to be found.
    const before = JSON.stringify(REQUEST).toLowerCase();
    for (const identifier of IDENTIFIERS) expect(before, identifier).toContain(identifier.toLowerCase());
  });

  it('gets the same cards as the request did, written down as what is expected until somebody judges it', async () => {
    const { patient, changed } = await recorded();
    expect(changed).toEqual([]);
    expect(patient.expected).toEqual({
      teaches: 'A recorded case.',
      truth: 'recorded',
      now: shiftedDate(AT, -517),
      cards: {
        'order-sign': [
          { rule: 'cup-inclination-outside-published', hip: 'left', indicator: 'warning' },
          { rule: 'neurological-disease', hip: 'left', indicator: 'info' },
        ],
      },
    });
  });

  it('keeps every tie: references are renamed alike, absolute or not', async () => {
    const { bundle } = (await recorded()).patient;
    const [patient, order, measure, device] = ['Patient', 'ServiceRequest', 'Observation', 'Device'].map(
      (type) => ofType(bundle, type),
    );
    expect(patient?.['id']).toBe('recorded-one');
    expect(measure?.['subject']).toEqual({ reference: 'Patient/recorded-one' });
    expect(device?.['patient']).toEqual({ reference: 'Patient/recorded-one' });
    expect(measure?.['basedOn']).toEqual([{ reference: `ServiceRequest/${String(order?.['id'])}` }]);
    expect(order?.['encounter']).toEqual({ reference: 'Encounter/encounter-1' });
    expect(order?.['requisition']).toEqual({ system: 'https://record.example/groups', value: 'group-1' });
  });

  it('has all its dates moved by the same number of days, and the year of birth alone', async () => {
    const { bundle } = (await recorded()).patient;
    expect(ofType(bundle, 'Observation')?.['effectiveDateTime']).toBe('2025-06-04T09:15:00Z');
    expect(ofType(bundle, 'Condition')?.['onsetDateTime']).toBe('2017-09-30');
    expect(ofType(bundle, 'Patient')).toEqual({
      resourceType: 'Patient',
      id: 'recorded-one',
      gender: 'female',
      birthDate: '1950',
    });
  });

  it('is a record that a client could send, and FHIR R4', async () => {
    const { bundle } = (await recorded()).patient;
    expect(fhirIssues(bundle)).toEqual([]);
    const service = SERVICES.find(({ hook }) => hook === 'order-sign');
    expect(service && patientCall(bundle, service, shipped, '')?.context['patientId']).toBe('recorded-one');
  });

  it('signs what was being signed, whatever status the record system gave it meanwhile', async () => {
    const context = {
      ...(REQUEST['context'] as JsonObject),
      draftOrders: { resourceType: 'Bundle', entry: [{ resource: { ...ORDER, status: 'active' } }] },
    };
    const { patient, changed } = await recorded({ ...REQUEST, context });
    expect(changed).toEqual([]);
    expect(ofType(patient.bundle, 'ServiceRequest')?.['status']).toBe('draft');
    expect(patient.expected.cards['order-sign']?.length).toBe(2);
  });

  it('is refused when an identifier stands where a code should, and the place is named', async () => {
    const odd = {
      ...ORDER,
      code: {
        coding: [
          { system: 'http://snomed.info/sct', code: '52734007' },
          { system: 'https://codes.example/own', code: 'MRN-4711-0815' },
        ],
      },
    };
    const context = {
      ...(REQUEST['context'] as JsonObject),
      draftOrders: { resourceType: 'Bundle', entry: [{ resource: odd }] },
    };
    const result = await recordCase({
      source: { ...REQUEST, context },
      name: 'odd',
      teaches: 'x',
      at: AT,
      shiftDays: 1,
      setting,
    });
    expect(result).toMatchObject({
      ok: false,
      faults: [expect.stringMatching(/was not written: entry\[0\]\.code\.coding\[1\]\.code$/)],
    });
    expect(JSON.stringify(result)).not.toContain('4711');
  });

  it('is refused for what is neither a request nor a Bundle, or holds nothing to ask about', async () => {
    const input = { name: 'none', teaches: 'x', at: AT, shiftDays: 1, setting };
    expect(await recordCase({ ...input, source: { hook: 'patient-opens' } })).toMatchObject({
      ok: false,
      faults: [expect.stringMatching(/expected a Bundle, or a CDS Hooks request/)],
    });
    expect(await recordCase({ ...input, source: { resourceType: 'Bundle' } })).toMatchObject({
      ok: false,
      faults: [expect.stringMatching(/found nothing/)],
    });
  });
});

describe('a Bundle recorded', () => {
  it('answers at every hook as its source does, for every shipped test patient', async () => {
    for (const { name, bundle, expected } of patients) {
      const result = await recordCase({
        source: bundle,
        name: 'again',
        teaches: 'x',
        at: expected.now,
        shiftDays: -700,
        setting,
      });
      expect(result.ok && result.value.changed, name).toEqual([]);
      if (!result.ok) continue;
      for (const [hook, cards] of Object.entries(expected.cards)) {
        const again =
          Object.entries(result.value.patient.expected.cards).find(([other]) => other === hook)?.[1] ?? [];
        const lines = (list: typeof cards) => list.map((card) => JSON.stringify(card)).sort();
        expect(lines(again), `${name} at ${hook}`).toEqual(lines(cards));
      }
    }
  }, 60_000);

  it('is the same for the same input, to the byte', async () => {
    const { bundle } = testPatient('third-dislocation-right');
    expect(JSON.stringify(await recorded(bundle))).toBe(JSON.stringify(await recorded(bundle)));
  });

  it('tells two patients apart where the record mixed them up', () => {
    const { bundle } = testPatient('textbook-hip');
    const mixed = mapEntries(bundle, (resource) =>
      resource['id'] === 'planned-head-diameter-4'
        ? { ...resource, subject: { reference: 'Patient/somebody-else' } }
        : resource,
    );
    const cleaned = withoutIdentifiers(mixed, { name: 'mixed', shiftDays: 1 });
    const head = resources(cleaned).find(({ id }) => id === 'observation-3');
    expect(head?.['subject']).toEqual({ reference: 'Patient/patient-2' });
  });
});

describe('a text that looks like a date', () => {
  it('is kept only where a date stands', () => {
    const observation = {
      resourceType: 'Observation',
      id: 'o',
      issued: '2026-03-04T05:06:07Z',
      valueString: '4711',
    };
    const cleaned = withoutIdentifiers({ entry: [{ resource: observation }] }, { name: 'x', shiftDays: 1 });
    expect(resources(cleaned)).toEqual([
      { resourceType: 'Observation', id: 'observation-1', issued: '2026-03-05T05:06:07Z' },
    ]);
  });
});

describe('a date moved', () => {
  it('stays as precise as it was', () => {
    expect(shiftedDate('2026-03-01', -1)).toBe('2026-02-28');
    expect(shiftedDate('2026-03-01T23:59:00+02:00', 1)).toBe('2026-03-02T23:59:00+02:00');
    expect(shiftedDate('2026-03', -31)).toBe('2026-02');
    expect(shiftedDate('2026', -365)).toBe('2025');
    expect(shiftedDate('next week', 1)).toBeUndefined();
  });
});

describe('the look back at what was left', () => {
  it('finds a name or number as the whole of a text, and passes over what was named anew', () => {
    const source = {
      resourceType: 'Patient',
      id: 'condition-1',
      name: [{ family: 'Moss' }],
      identifier: [{ system: 'urn:x', value: '12345' }],
    };
    expect([...identifyingValues(source)].sort()).toEqual(['12345', 'condition-1', 'moss']);
    const cleaned = {
      entry: [{ resource: { id: 'condition-1', code: { coding: [{ system: 'urn:x', code: 'MOSS' }] } } }],
    };
    expect(leftOver(cleaned, source)).toEqual(['entry[0].code.coding[0].code']);
  });
});

import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import type { PatientRecord } from '../../src/facts/patient-record.js';
import type { Case } from './records.js';
import { CODE, PATIENT, SNOMED, concept, order, read, searchset, snomed, stateOf, fact } from './records.js';

const BASE = 'https://record.example/fhir';
const HEMIARTHROPLASTY = '386649003';
const KNEE = '609588000';

function visit(more: JsonObject = {}): JsonObject {
  return {
    resourceType: 'Appointment',
    id: 'visit',
    status: 'proposed',
    participant: [{ actor: PATIENT, status: 'needs-action' }],
    ...more,
  };
}

function booking(appointment: JsonObject, prefetch: Case['prefetch'] = {}): PatientRecord {
  return read({ hook: 'appointment-book', appointments: [appointment], prefetch, fhirServer: BASE });
}

const signed = (...orders: readonly JsonObject[]): PatientRecord => read({ orders });

// Truth throughout: integration decisions §1, the recognition rules, one test per line of them.
describe('an order being signed', () => {
  it('is recognised as a hip replacement, with side, kind and the coding that said so', () => {
    const record = signed(order());
    expect(record.recognised).toBe('yes');
    expect(record.operations).toMatchObject([
      {
        name: 'ServiceRequest/order',
        kind: 'primary',
        side: { kind: 'sides', sides: ['left'] },
        by: { system: SNOMED, code: CODE.totalHip },
      },
    ]);
  });

  it.each(['draft', 'active', 'on-hold', 'unknown', undefined])(
    'is open in draft orders under the status %s',
    (status) => {
      expect(signed(order({ status })).recognised).toBe('yes');
    },
  );

  it.each(['revoked', 'completed', 'entered-in-error'])('is not open when it is %s', (status) => {
    expect(signed(order({ status })).recognised).toBe('no');
  });

  it('is no order when it is an option or asks for the operation not to be done', () => {
    expect(signed(order({ intent: 'option' })).recognised).toBe('no');
    expect(signed(order({ doNotPerform: true })).recognised).toBe('no');
    expect(signed(order({ doNotPerform: false })).recognised).toBe('yes');
    for (const intent of ['proposal', 'plan', 'original-order', 'filler-order']) {
      expect(signed(order({ intent })).recognised, intent).toBe('yes');
    }
  });

  it('is answered when it is urgent or stat', () => {
    // Truth: integration decisions §3: urgent and stat arthroplasty is answered.
    for (const priority of ['urgent', 'stat', 'asap'])
      expect(signed(order({ priority })).recognised).toBe('yes');
  });

  it.each<[string, JsonObject, string]>([
    ['names another patient', { subject: { reference: 'Patient/q' } }, 'other-patient'],
    [
      'names the same id on another server',
      { subject: { reference: 'https://other.example/fhir/Patient/p' } },
      'other-patient',
    ],
    ['names no patient', { subject: undefined }, 'order-unreadable'],
    [
      'carries an unknown modifier',
      { modifierExtension: [{ url: 'http://example.org/x' }] },
      'order-unreadable',
    ],
    ['has its code without a system', { code: { coding: [{ code: CODE.totalHip }] } }, 'order-unreadable'],
    ['is at the hip and has no code', { code: { text: 'total hip replacement' } }, 'order-unreadable'],
  ])('that %s is not used, and said to be so', (_what, more, kind) => {
    const record = signed(JSON.parse(JSON.stringify(order(more))) as JsonObject);
    expect(record.operations).toEqual([]);
    expect(record.hips.flatMap(({ findings }) => findings.map((finding) => finding.kind))).toEqual([kind]);
  });

  it.each<[string, JsonObject]>([
    ['a knee replacement', { code: snomed(KNEE), bodySite: [] }],
    ['a hip film', { code: concept('http://loinc.org', '24762-9') }],
    ['a code of another system', { code: concept('http://example.org', CODE.totalHip), bodySite: [] }],
    ['another resource', { resourceType: 'MedicationRequest' }],
  ])('for %s is none of ours', (_what, more) => {
    expect(signed(order(more)).recognised).toBe('no');
  });

  it('for another hip operation is recognised as such, and for a revision outranks what it replaces', () => {
    // Truth: integration decisions §1: hemiarthroplasty and resurfacing are recognised, rules not applicable.
    expect(signed(order({ code: snomed(HEMIARTHROPLASTY) })).operations).toMatchObject([
      { kind: 'other-hip' },
    ]);
    const revision = order({ code: snomed('112727005', CODE.totalHip) });
    expect(signed(revision).operations[0]?.kind).toBe('revision');
  });

  it('gives each hip its kind of operation', () => {
    const orders = [
      order(),
      order({ id: 'second', code: snomed('112727005'), bodySite: [snomed(CODE.rightHipSite)] }),
    ];
    const kinds = (hip: 'left' | 'right'): unknown => {
      const { state } = fact('procedure-kind', { orders }, hip);
      return state.status === 'present' && state.value.kind === 'code' ? state.value.codes : state.status;
    };
    expect([kinds('left'), kinds('right')]).toEqual([['primary'], ['revision']]);
    expect(stateOf('procedure-kind', { orders }, 'left')).toBe('present');
  });

  it('among others is found whatever their order, and a background order does not make one', () => {
    const knee = order({ id: 'knee', code: snomed(KNEE), bodySite: [] });
    expect(signed(knee, order()).operations).toEqual(signed(order(), knee).operations);
    expect(
      read({ orders: [knee], prefetch: { serviceRequests: searchset(order({ status: 'active' })) } })
        .recognised,
    ).toBe('no');
  });

  it('written by its full address or with its version is the same order', () => {
    const subject = { reference: `${BASE}/Patient/p/_history/3` };
    expect(read({ orders: [order({ subject })], fhirServer: BASE }).recognised).toBe('yes');
  });
});

describe('an appointment being booked', () => {
  it.each<[string, JsonObject, string]>([
    ['service type', { serviceType: [snomed(CODE.totalHip)] }, 'primary'],
    ['appointment type', { appointmentType: snomed(CODE.totalHip) }, 'primary'],
    ['reason code', { reasonCode: [snomed(CODE.totalHipLeft)] }, 'primary'],
    [
      'the code of a planned hip replacement',
      { reasonCode: [snomed(CODE.plannedReplacement)] },
      'unspecified',
    ],
  ])('is recognised by its %s', (_what, more, kind) => {
    const record = booking(visit(more));
    expect(record.recognised).toBe('yes');
    expect(record.operations.map((operation) => operation.kind)).toEqual([kind]);
  });

  it('is recognised by the open order it is based on, however that is written and wherever it came', () => {
    const active = order({ status: 'active' });
    const based = (reference: string): JsonObject => visit({ basedOn: [{ reference }] });
    const sent = { serviceRequests: searchset(active) };
    for (const reference of [
      'ServiceRequest/order',
      `${BASE}/ServiceRequest/order`,
      'ServiceRequest/order/_history/2',
    ]) {
      expect(
        booking(based(reference), sent).operations.map(({ name }) => name),
        reference,
      ).toEqual(['ServiceRequest/order']);
    }
    const contained = visit({
      contained: [{ ...active, id: 'inside' }],
      basedOn: [{ reference: '#inside' }],
    });
    expect(booking(contained).recognised).toBe('yes');
    const inContext = read({
      hook: 'appointment-book',
      appointments: [based('ServiceRequest/order'), active],
    });
    expect(inContext.recognised).toBe('yes');
  });

  it('based on an order that is not open is not', () => {
    for (const more of [
      { status: 'completed' },
      { status: 'revoked' },
      { status: 'active', intent: 'option' },
      { status: 'active', doNotPerform: true },
    ]) {
      const record = booking(visit({ basedOn: [{ reference: 'ServiceRequest/order' }] }), {
        serviceRequests: searchset(order(more)),
      });
      expect(record.recognised, JSON.stringify(more)).toBe('no');
    }
  });

  it('is recognised by a planned procedure it gives as its reason, and not by one that was done', () => {
    const procedure = (status: string): JsonObject => ({
      resourceType: 'Procedure',
      id: 'op',
      status,
      code: snomed(CODE.totalHip),
      subject: PATIENT,
    });
    const because = visit({ reasonReference: [{ reference: 'Procedure/op' }] });
    expect(booking(because, { procedures: searchset(procedure('preparation')) }).recognised).toBe('yes');
    expect(booking(because, { procedures: searchset(procedure('completed')) }).recognised).toBe('no');
  });

  it.each(['cancelled', 'noshow', 'entered-in-error', 'fulfilled'])(
    'that is %s is not looked at',
    (status) => {
      expect(booking(visit({ status, serviceType: [snomed(CODE.totalHip)] })).recognised).toBe('no');
    },
  );

  it('of another patient, or of nobody, is not looked at', () => {
    const coded = { serviceType: [snomed(CODE.totalHip)] };
    expect(
      booking(visit({ ...coded, participant: [{ actor: { reference: 'Patient/q' } }] })).recognised,
    ).toBe('no');
    expect(booking(visit({ ...coded, participant: [] })).recognised).toBe('no');
    expect(
      booking(
        visit({ ...coded, participant: [{ actor: { reference: 'Practitioner/x' } }, { actor: PATIENT }] }),
      ).recognised,
    ).toBe('yes');
  });

  it('is unknown only while a reference could not be followed and nothing else tells', () => {
    const based = { basedOn: [{ reference: 'ServiceRequest/elsewhere' }] };
    const record = booking(visit(based));
    expect(record.recognised).toBe('unknown');
    expect(record.unresolved).toEqual(['ServiceRequest/elsewhere']);
    expect(booking(visit({ reasonReference: [{ reference: 'Procedure/elsewhere' }] })).recognised).toBe(
      'unknown',
    );
    expect(booking(visit({ ...based, serviceType: [snomed(CODE.totalHip)] })).recognised).toBe('yes');
    const knee = order({ id: 'elsewhere', code: snomed(KNEE), bodySite: [], status: 'active' });
    expect(booking(visit(based), { serviceRequests: searchset(knee) }).recognised).toBe('no');
  });

  it('for a diagnosis alone is no hip replacement', () => {
    // Truth: integration decisions §1: a diagnosis alone never suffices.
    const arthrosis = concept('http://hl7.org/fhir/sid/icd-10-cm', 'M16.12');
    expect(booking(visit({ reasonCode: [arthrosis] })).recognised).toBe('no');
    expect(booking(visit({ reasonReference: [{ reference: 'Condition/c' }] })).recognised).toBe('no');
  });

  it('without a side takes that of its order; with another side it is in conflict with it', () => {
    const sent = { serviceRequests: searchset(order({ status: 'active' })) };
    const based = { basedOn: [{ reference: 'ServiceRequest/order' }] };
    const silent = booking(visit({ ...based, serviceType: [snomed(CODE.totalHip)] }), sent);
    expect(silent.hips.map(({ hip }) => hip)).toEqual(['left']);
    const other = booking(visit({ ...based, serviceType: [snomed(CODE.totalHipRight)] }), sent);
    expect(other.hips.flatMap(({ findings }) => findings.map(({ kind }) => kind))).toContain('side-conflict');
  });
});

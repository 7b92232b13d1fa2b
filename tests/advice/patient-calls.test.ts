import { describe, expect, it } from 'vitest';
import { prefetchTemplates, SERVICES } from '../../src/advice/index.js';
import { patientCall } from '../../src/advice/patient-calls.js';
import type { PatientCall } from '../../src/advice/patient-calls.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { rulebook, testPatients } from './patients.js';
import { fhirIssues } from '../oracles/fhir-validity.js';
import { checkRequest } from '../protocol/logical-model-check.js';

const HOOK_INSTANCE = '7c1de7a5-0c6f-4a0e-8f0b-2d8d3a5f9b11';

interface BundleEntry {
  readonly fullUrl?: string;
  readonly resource: JsonObject;
}

function entriesOf(bundle: unknown): readonly BundleEntry[] {
  return ((bundle as JsonObject | undefined)?.['entry'] ?? []) as readonly BundleEntry[];
}

function callsOf(bundle: JsonObject): readonly (readonly [(typeof SERVICES)[number], PatientCall])[] {
  return SERVICES.flatMap((service) => {
    const call = patientCall(bundle, service, rulebook, HOOK_INSTANCE);
    return call ? [[service, call] as const] : [];
  });
}

describe('the call a record system would make for a test patient', () => {
  for (const { name, bundle, expected } of testPatients()) {
    it(`${name}: is one a conformant client could send, for each hook it has expectations for`, () => {
      const calls = callsOf(bundle);
      expect(calls.map(([{ hook }]) => hook)).toEqual(expect.arrayContaining(Object.keys(expected.cards)));
      for (const [service, call] of calls) {
        // R2 to R4, section 4 of the conformance list.
        expect(checkRequest(call)).toEqual([]);
        // P12: only the keys asked for; a token that can't be resolved (no role, no encounter) leaves its key out.
        const keys = Object.keys(prefetchTemplates(service, rulebook));
        const unresolved = keys.filter((key) => !(key in call.prefetch));
        expect(Object.keys(call.prefetch)).toEqual(keys.filter((key) => !unresolved.includes(key)));
        expect(['user', 'encounter']).toEqual(expect.arrayContaining(unresolved));
      }
    });

    it(`${name}: holds FHIR R4 only, and nothing that is not in the patient's own Bundle`, () => {
      const own = entriesOf(bundle).map(({ resource }) => JSON.stringify(resource));
      for (const [, call] of callsOf(bundle)) {
        const { draftOrders, appointments } = call.context;
        const sent = [draftOrders, appointments, ...Object.values(call.prefetch)].flatMap(entriesOf);
        for (const { resource } of sent) expect(own).toContain(JSON.stringify(resource));
        for (const value of [draftOrders, appointments, ...Object.values(call.prefetch)]) {
          // H2, G2. A plan meant to be unreadable is not valid R4, and is the only one that need not be.
          if (value !== undefined && name !== 'unreadable-plan')
            expect(fhirIssues(value as object)).toEqual([]);
        }
      }
    });
  }

  it('puts each set where its template would find it', () => {
    for (const { bundle } of testPatients()) {
      for (const [service, call] of callsOf(bundle)) {
        for (const [key, template] of Object.entries(prefetchTemplates(service, rulebook))) {
          const type = template.split(/[/?]/)[0];
          const found = call.prefetch[key] as JsonObject | undefined;
          if (!found) continue;
          const types =
            found['resourceType'] === 'Bundle'
              ? entriesOf(found).map(({ resource }) => resource['resourceType'])
              : [found['resourceType']];
          // P1, P12: a search of one type gives that type.
          for (const each of types) expect(each).toBe(type);
        }
      }
    }
  });

  it('acts on the draft order only, and leaves it out of what is on record', () => {
    const draft = { resourceType: 'ServiceRequest', id: 'd', status: 'draft' };
    const signed = { resourceType: 'ServiceRequest', id: 's', status: 'active' };
    const patient = { resourceType: 'Patient', id: 'p' };
    const bundle = {
      resourceType: 'Bundle',
      entry: [patient, draft, signed].map((resource) => ({ resource })),
    };
    const order = SERVICES.find(({ hook }) => hook === 'order-sign');
    const call = order && patientCall(bundle, order, rulebook, HOOK_INSTANCE);
    // Section 4: draftOrders holds the drafts; the record holds the rest.
    expect(entriesOf(call?.context['draftOrders']).map(({ resource }) => resource)).toEqual([draft]);
    expect(entriesOf(call?.prefetch['serviceRequests']).map(({ resource }) => resource)).toEqual([signed]);
  });

  it('is none for a patient with nothing to book, choose or sign, or for a Bundle without a patient', () => {
    const patient = { resource: { resourceType: 'Patient', id: 'p' } };
    const order = { resource: { resourceType: 'ServiceRequest', status: 'draft' } };
    for (const service of SERVICES) {
      // A chart is opened for any patient.
      const opened = patientCall({ entry: [patient] }, service, rulebook, HOOK_INSTANCE);
      expect(opened === undefined).toBe(service.hook !== 'patient-view');
      expect(patientCall({ entry: [order] }, service, rulebook, HOOK_INSTANCE)).toBeUndefined();
      expect(patientCall({}, service, rulebook, HOOK_INSTANCE)).toBeUndefined();
    }
  });
});

import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { bundleEntries } from '../../src/fhir/bundle.js';
import type { JsonObject } from '../../src/fhir/json.js';
import type { AdviceInput } from '../../src/advice/index.js';
import { answerTo, cardNames, NOW, service } from './patients.js';

/**
 * Five realistic, computer-generated whole-life bundles (smart-on-fhir/generated-sample-data, Apache-2.0), read from
 * the folder that KOTYLE_NOISE_BUNDLES names; without that setting the test is skipped, with an empty folder it fails.
 */
const folder = process.env['KOTYLE_NOISE_BUNDLES'];

const SNOMED = 'http://snomed.info/sct';
const HIP = { coding: [{ system: SNOMED, code: '52734007' }] };
const SLEEP_CLINIC = { coding: [{ system: SNOMED, code: '427837008' }] };

function read(file: string): JsonObject {
  return JSON.parse(readFileSync(join(folder ?? '', file), 'utf8')) as JsonObject;
}

function call(bundle: JsonObject, hook: 'appointment-book' | 'order-sign', code: JsonObject): AdviceInput {
  const entries = bundleEntries(bundle);
  const patient = entries.find(({ resource }) => resource['resourceType'] === 'Patient');
  if (!patient) throw new Error('a bundle without a patient');
  const subject = { reference: patient.fullUrl };
  const set = (type: string): JsonObject => ({
    resourceType: 'Bundle',
    type: 'searchset',
    entry: entries.filter(({ resource }) => resource['resourceType'] === type),
  });
  const acted =
    hook === 'order-sign'
      ? { resourceType: 'ServiceRequest', status: 'draft', intent: 'order', code, subject }
      : {
          resourceType: 'Appointment',
          status: 'proposed',
          serviceType: [code],
          participant: [{ actor: subject, status: 'accepted' }],
        };
  const member = hook === 'order-sign' ? 'draftOrders' : 'appointments';
  const patientId = String(patient.resource['id']);
  return {
    service: service(hook),
    hookInstance: 'd1577c69-dfbe-44ad-ba6d-3e05e953b2ea',
    patientId,
    userId: 'Practitioner/one',
    context: {
      userId: 'Practitioner/one',
      patientId,
      [member]: { resourceType: 'Bundle', entry: [{ resource: acted }] },
    },
    prefetch: {
      patient: { resourceType: 'Bundle', entry: [patient] },
      conditions: set('Condition'),
      procedures: set('Procedure'),
      serviceRequests: set('ServiceRequest'),
      measures: set('Observation'),
      observations: set('Observation'),
    },
    iss: '-',
    now: NOW,
    engine: '0.1.0',
  };
}

describe.skipIf(folder === undefined)('five realistic records from KOTYLE_NOISE_BUNDLES', () => {
  const files =
    folder === undefined
      ? []
      : readdirSync(folder)
          .filter((name) => name.endsWith('.json'))
          .sort();

  it('are there', () => {
    expect(files.length).toBe(5);
  });

  it('give no error and no card at a visit or an order that is no hip operation', async () => {
    for (const file of files) {
      for (const hook of ['appointment-book', 'order-sign'] as const) {
        const answer = await answerTo(call(read(file), hook, SLEEP_CLINIC));
        expect([answer.cards, answer.hips, answer.faults], `${file} ${hook}`).toEqual([[], [], []]);
      }
    }
  });

  it('give, with a hip replacement booked, no card but the trigger card of the one with dementia', async () => {
    const cards: string[] = [];
    for (const file of files) {
      const answer = await answerTo(call(read(file), 'appointment-book', HIP));
      expect(answer.faults).toEqual([]);
      expect(answer.hips.length).toBe(1);
      cards.push(...cardNames(answer).map(({ rule }) => `${file} ${rule}`));
    }
    const withDementia = files.filter((file) => JSON.stringify(read(file)).includes('"230265002"'));
    expect(withDementia.length).toBe(1);
    expect(cards).toEqual(withDementia.map((file) => `${file} neurological-disease`));
  });
});

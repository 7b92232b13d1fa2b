import { afterEach, describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { objectsIn } from '../../src/fhir/json.js';
import { fhirIssues } from '../oracles/fhir-validity.js';
import { EXPECTED, PATIENT_ID, QUERIES, READS, RESOURCES } from '../server/fallback/records.js';
import { startFhirServer } from './fhir-server.js';
import type { FhirServer } from './fhir-server.js';
import type { ServerSwitches } from './refusals.js';

let server: FhirServer | undefined;

afterEach(async () => {
  await server?.stop();
});

async function ask(
  path: string,
  switches: ServerSwitches = {},
  headers: Readonly<Record<string, string>> = {},
): Promise<{ readonly status: number; readonly body: JsonObject }> {
  server = await startFhirServer(RESOURCES, switches);
  const response = await fetch(`${server.base}/${path}`, { headers });
  const { status } = response;
  const body = (await response.json()) as JsonObject;
  await server.stop();
  return { status, body };
}

// Truth: FHIR R4 (4.0.1), "search" and "http"; integration decisions section 6 for the switches.
describe('the FHIR server of the tests', () => {
  it('finds for every published template what the record holds for it, in valid R4', async () => {
    for (const { key, url } of QUERIES) {
      const { status, body } = await ask(url);
      expect(status).toBe(200);
      expect(fhirIssues(body), key).toEqual([]);
      const found = READS.includes(key)
        ? [body]
        : objectsIn(body['entry']).map(({ resource }) => resource as JsonObject);
      expect(found.map(({ id }) => id).sort()).toEqual(EXPECTED[key]);
    }
  });

  it('finds a patient by bare id and by reference alike', async () => {
    for (const patient of [PATIENT_ID, `Patient/${PATIENT_ID}`]) {
      expect((await ask(`Condition?patient=${patient}`)).body['total']).toBe(2);
    }
  });

  it('states what it can do', async () => {
    const { body } = await ask('metadata', { unknownTypes: { DeviceRequest: 404 } });
    expect(fhirIssues(body)).toEqual([]);
    expect(JSON.stringify(body)).toContain('"ServiceRequest"');
    expect(JSON.stringify(body)).not.toContain('"DeviceRequest"');
  });

  const condition = `Condition?patient=${PATIENT_ID}`;
  const refused: readonly (readonly [path: string, switches: ServerSwitches, status: number])[] = [
    ['Nonsense?patient=1', {}, 404],
    [`DeviceUseStatement?patient=${PATIENT_ID}&status=active`, {}, 400],
    ['DeviceRequest?patient=1', { unknownTypes: { DeviceRequest: 501 } }, 501],
    ['DeviceRequest/head-order', { unknownTypes: { DeviceRequest: 404 } }, 404],
    ['Patient/nobody', {}, 404],
    [condition, { demandsStatus: true }, 400],
    [`${condition}&clinical-status=active,resolved`, { refusesCommaLists: true }, 400],
    [`${condition}&clinical-status=active`, { knowsOnlyPatient: true }, 400],
    [condition, { demandsFhirJson: true }, 406],
    [condition, { token: 'secret' }, 401],
  ];
  for (const [path, switches, status] of refused) {
    it(`refuses ${path} with ${status} when ${JSON.stringify(switches)}`, async () => {
      const answer = await ask(path, switches);
      expect(answer.status).toBe(status);
      expect(answer.body['resourceType']).toBe('OperationOutcome');
      expect(fhirIssues(answer.body)).toEqual([]);
    });
  }

  it('takes what the switches ask for', async () => {
    expect(
      (await ask(`${condition}&clinical-status=active`, { demandsStatus: true, refusesCommaLists: true }))
        .body['total'],
    ).toBe(1);
    const headers = { accept: 'application/fhir+json', authorization: 'Bearer secret' };
    expect((await ask(condition, { demandsFhirJson: true, token: 'secret' }, headers)).status).toBe(200);
  });
});

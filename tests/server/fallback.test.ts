import { Writable } from 'node:stream';
import { pino } from 'pino';
import { afterEach, describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { nextPageUrl, readDataSet } from '../../src/fhir/bundle.js';
import type { SeenRequest } from '../fhir-server/listening.js';
import { startFhirServer } from '../fhir-server/fhir-server.js';
import type { FhirServer } from '../fhir-server/fhir-server.js';
import { prefetchOf, RECORD_PROFILES } from '../fhir-server/record-profiles.js';
import type { ServerSwitches } from '../fhir-server/refusals.js';
import {
  allIds,
  EXPECTED,
  idsOf,
  manyConditions,
  open,
  PATIENT_ID,
  QUERIES,
  queriesOf,
  readerFor,
  RESOURCES,
  states,
  TOKEN,
} from './fallback/records.js';

const HOUR_MS = 60 * 60 * 1000;
const running: FhirServer[] = [];

async function start(switches: ServerSwitches = {}, resources = RESOURCES): Promise<FhirServer> {
  const server = await startFhirServer(resources, switches);
  running.push(server);
  return server;
}

afterEach(async () => {
  await Promise.all(running.splice(0).map((server) => server.stop()));
});

/** The searches of one type, oldest first, as parameter lists without the patient. */
function searchesOf(requests: readonly SeenRequest[], type: string): readonly string[] {
  return requests
    .filter(({ url }) => url.startsWith(`/fhir/${type}?`))
    .map(({ url }) =>
      [...new URL(url, 'http://x').searchParams]
        .filter(([name]) => name !== 'patient')
        .map(([name, value]) => `${name}=${value}`)
        .join('&'),
    );
}

const COMPLETE = Object.fromEntries(QUERIES.map(({ key }) => [key, 'complete']));

// Truth throughout, where nothing else is named: integration decisions section 2, "Prefetch and fallback".
describe('a set that prefetch did not bring', () => {
  it('is read by its published template from a server that knows all of FHIR R4', async () => {
    const server = await start({ token: TOKEN });
    const sets = await open(readerFor(server.base), server.base).readSets(QUERIES);
    expect(states(sets)).toEqual(COMPLETE);
    expect(allIds(sets)).toEqual(EXPECTED);
    expect(server.requests.length).toBe(QUERIES.length);
    // F2: the access token is sent as bearer on each call.
    expect(new Set(server.requests.map(({ authorization }) => authorization))).toEqual(
      new Set([`Bearer ${TOKEN}`]),
    );
    expect(new Set(server.requests.map(({ method }) => method))).toEqual(new Set(['GET']));
  });

  it('holds what the same system would have sent as prefetch', async () => {
    const server = await start();
    const sets = await open(readerFor(server.base), server.base).readSets(QUERIES);
    const prefetch = await prefetchOf(RESOURCES, QUERIES);
    for (const { key, url } of QUERIES) {
      const type = url.split(/[/?]/)[0] ?? '';
      const sent = readDataSet(prefetch, key, type);
      // P12: data equal what the service would have got by its own call.
      expect(sets.get(key)?.resources.map(({ resource }) => resource)).toEqual(
        sent.resources.map(({ resource }) => resource),
      );
    }
  });

  const poorer: Readonly<Record<string, ServerSwitches>> = {
    'demands a status': { demandsStatus: true },
    'refuses comma lists': { refusesCommaLists: true },
    'demands a status and refuses comma lists': { demandsStatus: true, refusesCommaLists: true },
    'puts warnings beside its matches': { addsWarnings: true },
    'asks for Accept: application/fhir+json': { demandsFhirJson: true },
    'sends one resource a page': { pageSize: 1 },
  };
  for (const [habit, switches] of Object.entries(poorer)) {
    it(`is the same from a server that ${habit}`, async () => {
      const server = await start(switches);
      const sets = await open(readerFor(server.base), server.base).readSets(QUERIES);
      expect(states(sets)).toEqual(COMPLETE);
      expect(allIds(sets)).toEqual(EXPECTED);
    });
  }

  it('is read by patient alone where the server knows no other parameter, and holds at least the same', async () => {
    const server = await start({ knowsOnlyPatient: true });
    const sets = await open(readerFor(server.base), server.base).readSets(QUERIES);
    expect(states(sets)).toEqual(COMPLETE);
    for (const [key, ids] of Object.entries(EXPECTED))
      expect(idsOf(sets.get(key))).toEqual(expect.arrayContaining([...ids]));
    expect(idsOf(sets.get('appointments'))).toEqual(['visit-booked', 'visit-cancelled']);
    expect(searchesOf(server.requests, 'Appointment').at(-1)).toBe('');
  });

  it('is told apart where the server has no such type: not offered, which is not none', async () => {
    const { server: switches } = RECORD_PROFILES['us-core-like'];
    const server = await start(switches);
    const sets = await open(readerFor(server.base), server.base).readSets(QUERIES);
    expect(states(sets)).toEqual({ ...COMPLETE, deviceRequests: 'absent: not offered here' });
    expect(allIds(sets)).toEqual({ ...EXPECTED, deviceRequests: [] });
  });

  it('is complete and empty where the patient has none', async () => {
    const server = await start({}, [{ resourceType: 'Patient', id: PATIENT_ID }]);
    const sets = await open(readerFor(server.base), server.base).readSets(queriesOf('patient', 'conditions'));
    expect(states(sets)).toEqual({ patient: 'complete', conditions: 'complete' });
    expect(idsOf(sets.get('conditions'))).toEqual([]);
  });

  it('failed when every way of asking is refused', async () => {
    const server = await start({ knowsOnlyPatient: true, demandsStatus: true });
    const sets = await open(readerFor(server.base), server.base).readSets(queriesOf('serviceRequests'));
    expect(states(sets)).toEqual({ serviceRequests: 'failed: could not be read (query refused)' });
  });
});

describe('the ladder', () => {
  it('goes from the template over statuses and single values, each only when the one before is refused', async () => {
    const server = await start({ demandsStatus: true, refusesCommaLists: true });
    await open(readerFor(server.base), server.base).readSets(queriesOf('conditions', 'serviceRequests'));
    // FHIR R4 value set condition-clinical: six codes.
    const codes = ['active', 'recurrence', 'relapse', 'inactive', 'remission', 'resolved'];
    const searches = searchesOf(server.requests, 'Condition');
    expect(searches.slice(0, 2)).toEqual(['', `clinical-status=${codes.join(',')}`]);
    expect(searches.slice(2).sort()).toEqual(codes.map((code) => `clinical-status=${code}`).sort());
    // The template states its own status; nothing is added to it.
    expect(searchesOf(server.requests, 'ServiceRequest')[0]).toBe('status=draft,active,on-hold');
    expect(searchesOf(server.requests, 'ServiceRequest').slice(1).sort()).toEqual([
      'status=active',
      'status=draft',
      'status=on-hold',
    ]);
  });

  it('tries one search of a new way before sending the others', async () => {
    const server = await start({ knowsOnlyPatient: true });
    await open(readerFor(server.base), server.base).readSets(queriesOf('observations'));
    const [template, withStatuses, single, singleWithStatus, patientOnly, ...more] = searchesOf(
      server.requests,
      'Observation',
    );
    expect(template).toBe('code=http://loinc.org|1988-5,http://loinc.org|29463-7');
    expect(withStatuses).toMatch(/^code=.*,.*&status=.*,/);
    expect(single).toBe('code=http://loinc.org|1988-5');
    expect(singleWithStatus).toBe('code=http://loinc.org|1988-5&status=registered');
    expect(patientOnly).toBe('');
    expect(more).toEqual([]);
  });

  it('is begun at the step that worked, for an hour and for the same server only', async () => {
    let clock = 0;
    const server = await start({ demandsStatus: true });
    const other = await start({ demandsStatus: true });
    const reader = readerFor(server.base, { allowed: [server.base, other.base], now: () => clock });
    const count = async (asked: FhirServer): Promise<number> => {
      const before = asked.requests.length;
      const sets = await open(reader, asked.base).readSets(queriesOf('conditions'));
      expect(idsOf(sets.get('conditions'))).toEqual(EXPECTED['conditions']);
      return asked.requests.length - before;
    };
    expect(await count(server)).toBe(2);
    expect(await count(server)).toBe(1);
    expect(await count(other)).toBe(2);
    clock += HOUR_MS - 1;
    expect(await count(server)).toBe(1);
    clock += HOUR_MS;
    expect(await count(server)).toBe(2);
  });

  it('begins anew when the step that worked is refused', async () => {
    let switches: ServerSwitches = { demandsStatus: true };
    const server = await start(
      // Switches read anew at every request.
      new Proxy({}, { get: (_none, name) => switches[name as keyof ServerSwitches] }),
    );
    const reader = readerFor(server.base);
    await open(reader, server.base).readSets(queriesOf('serviceRequests', 'procedures'));
    switches = { knowsOnlyPatient: true };
    const sets = await open(reader, server.base).readSets(queriesOf('serviceRequests', 'procedures'));
    expect(states(sets)).toEqual({ serviceRequests: 'complete', procedures: 'complete' });
  });
});

describe('what a server does not offer', () => {
  for (const status of [404, 501] as const) {
    it(`by ${status} is not asked for again within the hour, whoever asks`, async () => {
      let clock = 0;
      const server = await start({ unknownTypes: { DeviceRequest: status } });
      const reader = readerFor(server.base, { now: () => clock });
      const ask = async (scopes?: string): Promise<number> => {
        const sets = await open(reader, server.base, scopes).readSets(queriesOf('deviceRequests'));
        expect(states(sets)).toEqual({ deviceRequests: 'absent: not offered here' });
        return server.requests.length;
      };
      expect(await ask()).toBe(1);
      expect(await ask('user/*.read')).toBe(1);
      clock += HOUR_MS;
      expect(await ask()).toBe(2);
    });
  }
});

describe('pages', () => {
  it('are followed to the last', async () => {
    const server = await start({}, manyConditions(45));
    const sets = await open(readerFor(server.base), server.base).readSets(queriesOf('conditions'));
    expect(states(sets)).toEqual({ conditions: 'complete' });
    expect(new Set(idsOf(sets.get('conditions'))).size).toBe(45);
    expect(server.requests.length).toBe(3);
  });

  it('are no more than fifty', async () => {
    const server = await start({ pageSize: 1 }, manyConditions(60));
    const sets = await open(readerFor(server.base), server.base).readSets(queriesOf('conditions'));
    expect(states(sets)).toEqual({ conditions: 'incomplete: more than 50 pages' });
    expect(idsOf(sets.get('conditions')).length).toBe(50);
    expect(server.requests.length).toBe(50);
  });

  it('are followed while time remains, and what they held is kept', async () => {
    const server = await start({ pageSize: 1, latencyMs: 150 }, manyConditions(45));
    const reader = readerFor(server.base, { budgetMs: 2000 });
    const sets = await open(reader, server.base).readSets(queriesOf('conditions'));
    expect(states(sets)).toEqual({
      conditions: 'incomplete: a further page could not be read (no answer in time)',
    });
    const count = idsOf(sets.get('conditions')).length;
    expect(count).toBeGreaterThan(0);
    expect(count).toBeLessThan(45);
  });

  it('of a prefetch Bundle are read on from its next link', async () => {
    const server = await start({}, manyConditions(45));
    const first = (await (
      await fetch(`${server.base}/Condition?patient=${PATIENT_ID}`)
    ).json()) as JsonObject;
    const sent = readDataSet({ conditions: first }, 'conditions', 'Condition');
    expect(sent.status).toBe('incomplete');
    const session = open(readerFor(server.base), server.base);
    const whole = await session.continueSet('conditions', nextPageUrl(first) ?? '', sent.resources);
    // P15.
    expect(whole.status).toBe('complete');
    expect(new Set(idsOf(whole)).size).toBe(45);
  });
});

describe('a reference', () => {
  it('is read where it stands on this server, relative or below its base, of any version', async () => {
    const server = await start({ token: TOKEN });
    const session = open(readerFor(server.base), server.base);
    for (const reference of [
      'ServiceRequest/order-done',
      `${server.base}/ServiceRequest/order-done`,
      'ServiceRequest/order-done/_history/3',
    ]) {
      expect((await session.readReference(reference))?.['id']).toBe('order-done');
    }
  });

  it('is not followed anywhere else', async () => {
    const server = await start();
    const stranger = await start();
    const session = open(readerFor(server.base), server.base);
    const { origin } = new URL(server.base);
    for (const reference of [
      // F9: the token goes to no other server.
      `${stranger.base}/ServiceRequest/order-done`,
      `${origin}/other/ServiceRequest/order-done`,
      '#order',
      'urn:uuid:4a8c2f6e-6a3c-4d63-9c1e-5b8a7d2f4e10',
      'ServiceRequest?identifier=1',
      'ServiceRequest/..',
      'ServiceRequest/../Patient/x',
      '',
    ]) {
      expect(await session.readReference(reference), reference).toBeUndefined();
    }
    expect([...server.requests, ...stranger.requests]).toEqual([]);
  });

  it('is nothing when what it names is not there', async () => {
    const server = await start();
    const session = open(readerFor(server.base), server.base);
    expect(await session.readReference('ServiceRequest/never')).toBeUndefined();
  });
});

describe('the granted scopes', () => {
  it('are looked at before asking', async () => {
    const server = await start();
    const scopes = 'launch openid patient/Condition.read patient/Patient.r';
    const session = open(readerFor(server.base), server.base, scopes);
    const sets = await session.readSets(queriesOf('patient', 'conditions', 'procedures'));
    expect(states(sets)).toEqual({
      patient: 'complete',
      conditions: 'complete',
      procedures: 'absent: not offered here: outside the granted scopes',
    });
    expect(await session.readReference('ServiceRequest/order-done')).toBeUndefined();
    expect(server.requests.length).toBe(2);
  });

  it('that cover a part of a type leave its set incomplete', async () => {
    const server = await start();
    const scopes = 'user/Observation.rs?category=laboratory';
    const sets = await open(readerFor(server.base), server.base, scopes).readSets(queriesOf('observations'));
    // SMART App Launch 2, "scopes for requesting FHIR resources": the server filters what such a scope does not cover.
    expect(states(sets)).toEqual({ observations: 'incomplete: granted in part only' });
    expect(idsOf(sets.get('observations'))).toEqual(EXPECTED['observations']);
  });
});

describe('a server that is not allow-listed', () => {
  it('is not asked at all', async () => {
    const server = await start();
    const { base } = server;
    const other = base.replace('127.0.0.1', 'localhost');
    const reader = readerFor(base);
    for (const fhirServer of [
      other,
      `${base}/deeper`,
      base.replace('/fhir', ''),
      base.replace('/fhir', '/fhir2'),
      base.replace('/fhir', '/FHIR'),
      base.replace('http:', 'https:'),
      base.replace('//', '//user:secret@'),
      `${base}//`,
      `${base}?tenant=1`,
      `${base}/../fhir/..`,
      'not a url',
      '',
    ]) {
      // F7: allow-list.
      expect(reader.open({ fhirServer, accessToken: TOKEN }), fhirServer).toBeUndefined();
    }
    expect(readerFor(base, { allowed: [] }).open({ fhirServer: base, accessToken: TOKEN })).toBeUndefined();
    expect(server.requests).toEqual([]);
  });

  it('is another matter than one trailing slash', async () => {
    const server = await start();
    const session = open(readerFor(`${server.base}/`), server.base);
    expect(states(await session.readSets(queriesOf('patient')))).toEqual({ patient: 'complete' });
    expect(readerFor(server.base).open({ fhirServer: `${server.base}/` })).toBeDefined();
  });
});

describe('a token', () => {
  it('that is not there is not sent', async () => {
    const server = await start();
    const session = readerFor(server.base).open({ fhirServer: server.base });
    await session?.readSets(queriesOf('patient'));
    expect(server.requests.map(({ authorization }) => authorization)).toEqual([undefined]);
  });

  it('that no header can hold makes the set one that could not be read', async () => {
    const server = await start();
    const session = readerFor(server.base).open({ fhirServer: server.base, accessToken: 'a\r\nX-Other: b' });
    const sets = await session?.readSets(queriesOf('patient'));
    expect(sets && states(sets)).toEqual({ patient: 'failed: could not be read (the connection failed)' });
    expect(server.requests).toEqual([]);
  });
});

describe('the log of the reading', () => {
  it('holds key, type, status class and time, and nothing of patient, token, address or body', async () => {
    const lines: string[] = [];
    const stream = new Writable({
      write(chunk: Buffer, _encoding, done) {
        lines.push(chunk.toString('utf8'));
        done();
      },
    });
    const server = await start({ demandsStatus: true, unknownTypes: { DeviceRequest: 404 }, token: TOKEN });
    const reader = readerFor(server.base, { log: pino({ level: 'trace' }, stream) });
    await open(reader, server.base).readSets(QUERIES);
    await reader.open({ fhirServer: server.base, accessToken: 'another' })?.readSets(QUERIES);
    await open(reader, server.base).readReference('ServiceRequest/order-done');
    expect(lines.length).toBeGreaterThan(QUERIES.length * 2);
    const text = lines.join('');
    // F3 and style section 9.
    for (const secret of [
      PATIENT_ID,
      TOKEN,
      'another',
      server.base,
      '127.0.0.1',
      'condition-active',
      'order-done',
    ]) {
      expect(text).not.toContain(secret);
    }
    const members = new Set(lines.flatMap((line) => Object.keys(JSON.parse(line) as JsonObject)));
    expect([...members].sort()).toEqual(
      ['hostname', 'key', 'level', 'ms', 'msg', 'pid', 'status', 'time', 'type'].sort(),
    );
    const seen = new Set(lines.map((line) => (JSON.parse(line) as JsonObject)['status']));
    expect(seen).toEqual(new Set(['2xx', '4xx']));
  });
});

import nock from 'nock';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { page } from './faulty-server.js';
import { EXPECTED, idsOf, open, queriesOf, readerFor, states, TOKEN, PATIENT_ID } from './records.js';

const BASE = 'https://record.example/fhir';
const JSON_TYPE = { 'content-type': 'application/fhir+json; charset=UTF-8' };

// Servers of this machine have no certificates and no names: what depends on either is intercepted instead.
describe('a record system behind https', () => {
  beforeAll(() => {
    nock.disableNetConnect();
  });
  afterEach(() => {
    nock.cleanAll();
  });
  afterAll(() => {
    nock.enableNetConnect();
    nock.restore();
  });

  const condition = { resourceType: 'Condition', id: 'condition-active' };

  it('is read under its base, however the call writes scheme, host and default port', async () => {
    nock('https://record.example', { reqheaders: { authorization: `Bearer ${TOKEN}` } })
      .get('/fhir/Condition')
      .query({ patient: PATIENT_ID })
      .reply(200, page([condition], 'https://record.example:443/fhir?page=2'), JSON_TYPE)
      .get('/fhir')
      .query({ page: '2' })
      .reply(200, page([{ ...condition, id: 'condition-resolved' }]), JSON_TYPE);
    const sets = await open(readerFor(BASE), 'HTTPS://Record.Example:443/fhir/').readSets(
      queriesOf('conditions'),
    );
    expect(states(sets)).toEqual({ conditions: 'complete' });
    expect(idsOf(sets.get('conditions'))).toEqual(EXPECTED['conditions']);
    expect(nock.isDone()).toBe(true);
  });

  for (const next of ['http://record.example/fhir?page=2', 'https://other.example/fhir?page=2']) {
    it(`is not left for ${next}`, async () => {
      const asked: string[] = [];
      nock.emitter.on('no match', (request: { readonly host?: string }) => asked.push(String(request.host)));
      nock('https://record.example')
        .get('/fhir/Condition')
        .query({ patient: PATIENT_ID })
        .reply(200, page([condition], next), JSON_TYPE);
      const elsewhere = nock(new URL(next).origin)
        .get('/fhir')
        .query({ page: '2' })
        .reply(200, page([]), JSON_TYPE);
      const sets = await open(readerFor(BASE), BASE).readSets(queriesOf('conditions'));
      // F9, P15: another scheme is another origin.
      expect(states(sets)).toEqual({ conditions: 'incomplete: next page on another server, not followed' });
      expect(elsewhere.isDone()).toBe(false);
      expect(asked).toEqual([]);
      nock.emitter.removeAllListeners('no match');
    });
  }
});

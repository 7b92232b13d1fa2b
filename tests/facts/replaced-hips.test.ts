import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { chart, device, factOf, property, replacement, signing, valueOf } from './charts.js';
import type { Sets } from './charts.js';
import { condition, measure, order, quantity, snomed } from './records.js';

/** What a record says of the replacement itself: its kind, what was coded of the hip since, how its cup was read. */

const PARTIAL = snomed('386649003');
const present = condition('present', 'Z96.642', { onsetDateTime: '2019-05-06' });

function inPlace(id: string, sets: Sets, more: JsonObject = {}): unknown {
  return valueOf(factOf(chart(sets, more), id));
}

const cupInPlace = measure('cup-inclination', quantity(44, 'deg'), { stages: ['postoperative'] });

describe('the kind of replacement in place', () => {
  const kind = (sets: Sets, more: JsonObject = {}): unknown => inPlace('replacement-in-place', sets, more);

  it.each<[string, Sets, readonly string[]]>([
    ['a total replacement', { procedures: [replacement('left')] }, ['total']],
    ['only the code for an artificial joint', { conditions: [present] }, ['unstated']],
    ['a measured cup', { conditions: [present], measures: [cupInPlace] }, ['total']],
    [
      'a measured head',
      {
        conditions: [present],
        measures: [measure('head-diameter', quantity(46, 'mm'), { stages: ['postoperative'] })],
      },
      ['unstated'],
    ],
    [
      'a partial replacement',
      { conditions: [present], procedures: [replacement('left', { code: PARTIAL })] },
      ['partial'],
    ],
    [
      'a partial replacement and a cup',
      { conditions: [present], procedures: [replacement('left', { code: PARTIAL })], measures: [cupInPlace] },
      ['partial-with-cup'],
    ],
    [
      'a partial replacement and the total one after it',
      {
        procedures: [
          replacement('left', { code: PARTIAL, id: 'first', performedDateTime: '2011-02-03' }),
          replacement('left'),
        ],
      },
      ['total'],
    ],
    [
      'a partial replacement of the other hip',
      { conditions: [present], procedures: [replacement('right', { code: PARTIAL })] },
      ['unstated'],
    ],
  ])('is, with %s on record, as stated there', (_what, sets, expected) => {
    // Truth: clinician: Z96.64- may be a hemiarthroplasty; a partial replacement has no cup.
    expect(kind(sets)).toEqual(expected);
  });

  it('is total where a cup was implanted', () => {
    const shell = device('shell', [property('hip-side', 'left')], {
      type: { coding: [{ system: 'http://dicom.nema.org/resources/ontology/DCM', code: '112305' }] },
    });
    expect(kind({ devices: [shell] })).toEqual(['total']);
    expect(kind({ devices: [device('head', [property('hip-side', 'left')])] })).toEqual(['unstated']);
  });

  it('is not known where procedures, implants or measures did not arrive', () => {
    for (const key of ['procedures', 'devices', 'measures'])
      expect(kind({ conditions: [present] }, { [key]: undefined })).toBe('set-not-read');
  });

  it('is asked of nothing planned', () => {
    const record = signing([order()], { conditions: [present] });
    expect(valueOf(factOf(record, 'replacement-in-place', 'left', 'planned'))).toBe('absent');
  });
});

describe('a dislocation coded for a native hip', () => {
  const native = (date: string | undefined): JsonObject =>
    condition('native', 'S73.015A', { onsetDateTime: date });
  const told = (date: string | undefined, sets: Sets): unknown =>
    valueOf(
      factOf(
        signing([order()], { ...sets, conditions: [native(date), ...(sets.conditions ?? [])] }),
        'native-code-after-replacement',
        'left',
        'planned',
      ),
    );
  const replaced = { procedures: [replacement('left')] };

  it.each<[string, string | undefined, Sets, unknown]>([
    ['after the replacement', '2020-05-01', replaced, ['dislocation coded for the native hip, 1 May 2020']],
    ['before it', '2018-05-01', replaced, 'absent'],
    ['on the same day', '2019-05-06', replaced, 'absent'],
    ['without a date', undefined, replaced, 'input-missing'],
    ['of a hip never replaced', '2020-05-01', {}, 'absent'],
    ['with the other hip replaced', '2020-05-01', { procedures: [replacement('right')] }, 'absent'],
    [
      'after a replacement of unknown date',
      '2020-05-01',
      { procedures: [replacement('left', { performedDateTime: undefined })] },
      'input-missing',
    ],
    [
      'after a prosthesis was on the list',
      '2020-05-01',
      { conditions: [present] },
      ['dislocation coded for the native hip, 1 May 2020'],
    ],
    ['before a prosthesis came onto the list', '2018-05-01', { conditions: [present] }, 'input-missing'],
  ])('%s', (_when, date, sets, expected) => {
    expect(told(date, sets)).toEqual(expected);
  });

  it('is not counted as a dislocation of the prosthesis, whenever it was', () => {
    const record = signing([order()], { ...replaced, conditions: [native('2020-05-01')] });
    expect(valueOf(factOf(record, 'prosthesis-dislocation', 'left', 'planned'))).toBe('absent');
  });

  it('is told once of a hip that is both planned and in place', () => {
    const record = chart({
      ...replaced,
      conditions: [native('2020-05-01')],
      serviceRequests: [order({ status: 'active' })],
    });
    const of = (construct: 'planned' | 'in-place'): unknown =>
      valueOf(factOf(record, 'native-code-after-replacement', 'left', construct));
    expect([of('planned'), of('in-place')]).toEqual([
      ['dislocation coded for the native hip, 1 May 2020'],
      'absent',
    ]);
  });
});

describe('the sign of a measured anteversion', () => {
  const sign = (parts: Readonly<Record<string, string | boolean>>): unknown =>
    inPlace('cup-version-sign', {
      procedures: [replacement('left')],
      measures: [measure('cup-anteversion', quantity(14, 'deg'), { stages: ['postoperative'], with: parts })],
    });

  it('is shown by the method, or by the word that it was confirmed', () => {
    // Truth: clinician: an AP film gives the size of anteversion, not its sign.
    expect(sign({ method: 'ap-film' })).toEqual(['not-shown']);
    expect(sign({})).toEqual(['not-shown']);
    for (const method of ['ct', 'cross-table', 'navigation']) expect(sign({ method })).toEqual(['shown']);
    expect(sign({ method: 'ap-film', 'version-sign-confirmed': true })).toEqual(['shown']);
    expect(sign({ method: 'ct', 'version-sign-confirmed': false })).toEqual(['not-shown']);
  });

  it('is stated by a plan, and unknown without an angle', () => {
    const record = signing([order()], { measures: [measure('cup-anteversion', quantity(14, 'deg'))] });
    expect(valueOf(factOf(record, 'cup-version-sign', 'left', 'planned'))).toEqual(['shown']);
    expect(inPlace('cup-version-sign', { procedures: [replacement('left')] })).toBe('not-recorded');
  });
});

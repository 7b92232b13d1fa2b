import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { readProcedureHistory } from '../../src/facts/procedure-history.js';
import type { ProcedureHistory } from '../../src/facts/procedure-history.js';
import type { SideReading } from '../../src/facts/laterality.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { shipped } from '../rulebook/shipped.js';
import { pcs, publishedConcepts, sideOf } from '../terminology/terminology-files.js';
import { CODE, ICD, NOW, PATIENT, SNOMED, concept, snomed } from './records.js';

function procedure(id: string, code: unknown, more: JsonObject = {}): JsonObject {
  return {
    resourceType: 'Procedure',
    id,
    status: 'completed',
    subject: PATIENT,
    code: typeof code === 'string' ? concept(pcs, code) : code,
    performedDateTime: '2019-03-04',
    ...more,
  };
}

const on = (date: string): JsonObject => ({ performedDateTime: date });
const NOW_BEGUN = on(new Date(NOW).toISOString());
const LEFT = { bodySite: [snomed(CODE.leftHipSite)] };
const BOTH = { bodySite: [snomed(CODE.leftHipSite), snomed(CODE.rightHipSite)] };

function history(...procedures: readonly JsonObject[]): ProcedureHistory {
  return readProcedureHistory(
    procedures.map((resource) => ({ resource })),
    { knowledge: shipped.knowledge, now: NOW },
  );
}

const sideText = (side: SideReading): string => (side.kind === 'sides' ? side.sides.join('+') : side.kind);

/** Each replacement as `kind side date`. */
function told(...procedures: readonly JsonObject[]): readonly string[] {
  return history(...procedures).arthroplasties.map(
    ({ kind, side, date }) => `${kind} ${sideText(side)} ${date ?? 'undated'}`,
  );
}

const why = (given: ProcedureHistory): readonly string[] =>
  given.notes.map((note) => `${note.from}: ${note.why}`);

// Codes typed by hand; titles published in the ICD-10-PCS tables: 9 right, B left; R and S the femoral surface.
const PUT_IN_RIGHT = '0SR9019';
const PUT_IN_LEFT = '0SRB04A';
const TAKEN_OUT_RIGHT = '0SP90JZ';
const TAKEN_OUT_LEFT = '0SPB0JZ';

describe('published codes of hip operations', () => {
  // Truth: tests/published/terminology and the notes of these concepts.
  const codesOf = (name: string) =>
    (publishedConcepts.find((each) => each.concept === name)?.codes ?? []).filter(({ system }) =>
      [SNOMED, pcs].includes(system),
    );
  const kindsOf = (copy: ReturnType<typeof codesOf>[number]): readonly string[] => {
    const code = copy.system === pcs ? copy.code.padEnd(7, 'Z') : copy.code;
    return told(procedure('p', concept(copy.system, code)));
  };
  const sides = (copy: ReturnType<typeof codesOf>[number]): readonly string[] => {
    const side = sideOf(copy);
    return side === 'bilateral' ? ['left', 'right'] : [side ?? 'unknown'];
  };

  it.each([
    ['tha-primary', 'primary'],
    ['tha-revision', 'revision'],
    ['conversion-to-tha', 'conversion'],
  ])('of %s are read as %s, on the side their titles name', (name, kind) => {
    // A conversion from a total prosthesis is a revision; a removal alone is half of an exchange.
    const fromTotal = ['447947007', '1290059002'];
    for (const copy of codesOf(name)) {
      const removal = copy.system === pcs && copy.code.startsWith('0SP');
      const meant = fromTotal.includes(copy.code) ? 'revision' : kind;
      const wanted = removal ? [] : sides(copy).map((side) => `${meant} ${side} 2019-03-04`);
      expect(kindsOf(copy), copy.code).toEqual(wanted);
    }
  });

  it.each([
    'hip-hemiarthroplasty',
    'hip-resurfacing',
    'closed-reduction-of-prosthesis',
    'hip-osteotomy',
    'hip-fracture-fixation',
    'hip-explantation-or-spacer',
    'hip-abductor-repair',
    'lumbar-spinal-fusion',
  ])('of %s are no total hip replacement', (name) => {
    expect(codesOf(name).length).toBeGreaterThan(3);
    for (const copy of codesOf(name)) expect(kindsOf(copy), copy.code).toEqual([]);
  });

  it('are found under another address and in lower case, and never by text or as a diagnosis', () => {
    expect(told(procedure('p', concept('urn:oid:2.16.840.1.113883.6.4', '0sr9019')))).toEqual([
      'primary right 2019-03-04',
    ]);
    expect(told(procedure('p', { text: 'total hip replacement' }))).toEqual([]);
    expect(told(procedure('p', concept(ICD, PUT_IN_RIGHT)))).toEqual([]);
    expect(told({ ...procedure('p', PUT_IN_RIGHT), resourceType: 'Condition' })).toEqual([]);
  });
});

// Truth: integration decisions section 1, and the published notes: 0SP is a revision only with 0SR on the same side and day.
describe('an exchange, which ICD-10-PCS codes as removal and replacement', () => {
  it('in the codings of one Procedure is one revision', () => {
    expect(told(procedure('p', concept(pcs, TAKEN_OUT_RIGHT, PUT_IN_RIGHT)))).toEqual([
      'revision right 2019-03-04',
    ]);
  });

  it('in two Procedures of the same side and day is one revision, and nothing is left over', () => {
    const given = history(procedure('a', TAKEN_OUT_RIGHT), procedure('b', PUT_IN_RIGHT));
    expect(given.arthroplasties).toMatchObject([
      { name: 'Procedure/b', kind: 'revision', by: { system: pcs, code: PUT_IN_RIGHT }, status: 'completed' },
    ]);
    expect(given.notes).toEqual([]);
  });

  it('at different hours of one day, or with several parts taken out, is one revision', () => {
    expect(
      told(
        procedure('a', TAKEN_OUT_RIGHT, on('2019-03-04T08:10:00+01:00')),
        procedure('b', '0SP909Z', on('2019-03-04T08:30:00+01:00')),
        procedure('c', PUT_IN_RIGHT, on('2019-03-04T09:00:00+01:00')),
      ),
    ).toEqual(['revision right 2019-03-04T09:00:00+01:00']);
  });

  it.each([
    ['0SPR0JZ', '0SRR0J9'],
    ['0SPS0JZ', '0SRS03A'],
    ['0SPA0JZ', PUT_IN_RIGHT],
    ['0SPE0JZ', PUT_IN_LEFT],
    ['0SP909Z', PUT_IN_RIGHT],
    ['0SP90JZ', '0SRR019'],
  ])('of one component (%s with %s) is a revision', (out, into) => {
    expect(told(procedure('a', out), procedure('b', into))).toEqual([
      expect.stringMatching(/^revision (?:left|right) 2019-03-04$/),
    ]);
  });

  it.each<[string, JsonObject, JsonObject]>([
    ['the other side', procedure('a', TAKEN_OUT_LEFT), procedure('b', PUT_IN_RIGHT)],
    ['another day', procedure('a', TAKEN_OUT_RIGHT, on('2019-03-03')), procedure('b', PUT_IN_RIGHT)],
    ['a day not told', procedure('a', TAKEN_OUT_RIGHT, on('2019-03')), procedure('b', PUT_IN_RIGHT)],
    [
      'no date at all',
      procedure('a', TAKEN_OUT_RIGHT, { performedDateTime: undefined }),
      procedure('b', PUT_IN_RIGHT),
    ],
    [
      'a removal not done',
      procedure('a', TAKEN_OUT_RIGHT, { status: 'not-done' }),
      procedure('b', PUT_IN_RIGHT),
    ],
  ])('with %s is none: the replacement stays a first one', (_what, out, into) => {
    const given = history(out, into);
    expect(given.arthroplasties).toMatchObject([{ name: 'Procedure/b', kind: 'primary' }]);
    expect(why(given).join()).toMatch(
      /Procedure\/a: (?:removal of a hip prosthesis without|procedure status)/,
    );
  });

  it('of which only the removal is on record is told, and is no replacement', () => {
    const given = history(procedure('a', TAKEN_OUT_LEFT));
    expect(given.arthroplasties).toEqual([]);
    expect(why(given)).toEqual([
      'Procedure/a: removal of a hip prosthesis without a replacement of the same hip on that day, not counted as a revision',
    ]);
  });

  it('for a spacer is an explantation and no revision', () => {
    expect(told(procedure('a', TAKEN_OUT_RIGHT), procedure('b', '0SR90EZ'))).toEqual([]);
  });

  it('on one side beside a first replacement of the other is both', () => {
    expect(
      told(procedure('a', TAKEN_OUT_RIGHT), procedure('b', PUT_IN_RIGHT), procedure('c', PUT_IN_LEFT)),
    ).toEqual(['revision right 2019-03-04', 'primary left 2019-03-04']);
  });

  it('after a first replacement years before is a second operation', () => {
    expect(
      told(
        procedure('c', PUT_IN_RIGHT, on('2019-03-04')),
        procedure('a', PUT_IN_RIGHT, on('2005-07-01')),
        procedure('b', TAKEN_OUT_RIGHT, on('2019-03-04')),
      ),
    ).toEqual(['primary right 2005-07-01', 'revision right 2019-03-04']);
  });
});

describe('one operation written down twice', () => {
  it('with the same side, day and kind is one', () => {
    // Truth: closed form.
    expect(told(procedure('a', PUT_IN_LEFT), procedure('b', snomed(CODE.totalHipLeft)))).toEqual([
      'primary left 2019-03-04',
    ]);
  });

  it('once as revision and once by its new implant is a revision', () => {
    // Truth: published note: the same ICD-10-PCS code is used for the new implant of a revision.
    expect(told(procedure('a', PUT_IN_LEFT), procedure('b', snomed('735196007')))).toEqual([
      'revision left 2019-03-04',
    ]);
    expect(told(procedure('a', PUT_IN_LEFT), procedure('b', snomed('449039004'), LEFT))).toEqual([
      'conversion left 2019-03-04',
    ]);
  });

  it('is not assumed without a day or a side', () => {
    const undated = { performedDateTime: undefined };
    expect(told(procedure('a', PUT_IN_LEFT, undated), procedure('b', PUT_IN_LEFT, undated))).toHaveLength(2);
    expect(told(procedure('a', snomed(CODE.totalHip)), procedure('b', snomed(CODE.totalHip)))).toHaveLength(
      2,
    );
  });
});

describe('the side of an earlier replacement', () => {
  it('stands in the code, in the body site, in both, or nowhere', () => {
    expect(told(procedure('a', snomed(CODE.totalHip), LEFT))).toEqual(['primary left 2019-03-04']);
    expect(told(procedure('a', PUT_IN_LEFT, LEFT))).toEqual(['primary left 2019-03-04']);
    expect(told(procedure('a', snomed(CODE.totalHip)))).toEqual(['primary unknown 2019-03-04']);
  });

  it('of both hips in one Procedure makes two operations', () => {
    const wanted = ['primary left 2019-03-04', 'primary right 2019-03-04'];
    expect(told(procedure('a', snomed(CODE.totalHipBoth)))).toEqual(wanted);
    expect(told(procedure('a', snomed(CODE.totalHip), BOTH))).toEqual(wanted);
  });

  it('that contradicts itself stays a contradiction', () => {
    expect(told(procedure('a', PUT_IN_RIGHT, LEFT))).toEqual(['primary conflict 2019-03-04']);
  });
});

describe('the date of an earlier replacement', () => {
  it.each([
    [{ performedDateTime: '2019' }, '2019'],
    [{ performedPeriod: { start: '2019-03-04', end: '2019-03-05' } }, '2019-03-05'],
    [{ performedPeriod: { start: '2019-03-04' } }, '2019-03-04'],
    [{ performedString: 'in her youth' }, 'undated'],
  ])('%o is %s', (more, date) => {
    // Truth: published, FHIR R4 Procedure.performed[x].
    const bare = procedure('a', PUT_IN_LEFT, { performedDateTime: undefined, ...more });
    expect(told(bare)).toEqual([`primary left ${date}`]);
  });

  it('that cannot be read, or lies ahead, keeps the entry out and says so', () => {
    expect(why(history(procedure('a', PUT_IN_LEFT, on('2019-02-31'))))).toEqual([
      'Procedure/a: date not readable',
    ]);
    const ahead = history(procedure('a', PUT_IN_LEFT, on('2027-05-01')));
    expect(ahead.arthroplasties).toEqual([]);
    expect(why(ahead)).toEqual(['Procedure/a: dated in the future']);
  });

  it('orders what is told: undated first, then the oldest', () => {
    expect(
      told(
        procedure('a', PUT_IN_LEFT, on('2012')),
        procedure('b', PUT_IN_RIGHT, on('2008-01-01')),
        procedure('c', snomed(CODE.totalHip), { performedDateTime: undefined }),
      ),
    ).toEqual(['primary unknown undated', 'primary right 2008-01-01', 'primary left 2012']);
  });
});

// Truth: published, FHIR R4 event-status.
describe('the status of a Procedure', () => {
  it.each([
    ['not-done', /status not-done/],
    ['entered-in-error', /status entered-in-error/],
    ['stopped', /status stopped/],
    ['on-hold', /status on-hold/],
    ['unknown', /status unknown/],
    ['performed', /status not readable/],
    [undefined, /status not readable/],
  ])('%s makes it no replacement, and is told', (status, text) => {
    const given = history(procedure('a', PUT_IN_LEFT, { status }));
    expect(given).toMatchObject({ arthroplasties: [], planned: [], inProgress: [] });
    expect(why(given).join()).toMatch(text);
  });

  it('preparation makes a total replacement planned, and nothing else', () => {
    const status = 'preparation';
    const given = history(
      procedure('a', snomed('735194005'), { status, performedDateTime: undefined }),
      procedure('b', snomed('386649003'), { status }),
      procedure('c', '0Q860ZZ', { status }),
    );
    expect(given.planned).toEqual([
      {
        name: 'Procedure/a',
        side: { kind: 'sides', sides: ['right'] },
        kind: 'revision',
        by: { system: SNOMED, code: '735194005' },
      },
    ]);
    expect(given).toMatchObject({ arthroplasties: [], inProgress: [], notes: [] });
  });

  it('preparation may carry a date to come', () => {
    const ahead = { status: 'preparation', ...on('2027-05-01') };
    expect(history(procedure('a', PUT_IN_LEFT, ahead)).planned).toHaveLength(1);
  });

  it.each([
    ['a total replacement', PUT_IN_LEFT],
    ['a partial replacement', '0SRS0J9'],
    ['a closed reduction', '0SWBXJZ'],
    ['an osteotomy', '0Q870ZZ'],
    ['a fixation', '0QS704Z'],
    ['a removal', TAKEN_OUT_LEFT],
    ['a spacer', '0SRB0EZ'],
  ])('in-progress tells that %s of this hip is going on', (_what, code) => {
    const given = history(procedure('a', code, { status: 'in-progress', ...NOW_BEGUN }));
    expect(given.inProgress).toEqual([{ name: 'Procedure/a', side: { kind: 'sides', sides: ['left'] } }]);
    expect(given).toMatchObject({ arthroplasties: [], closedReductions: [], planned: [], notes: [] });
  });

  it('in-progress for longer than two days is a status nobody closed, and silences nothing', () => {
    const since = (date: string): ReturnType<typeof history> =>
      history(procedure('a', PUT_IN_LEFT, { status: 'in-progress', ...on(date) }));
    expect(since('2019-05-01')).toMatchObject({ inProgress: [], arthroplasties: [] });
    expect(why(since('2019-05-01')).join()).toMatch(/in progress since 2019-05-01/);
    const today = new Date(NOW).toISOString();
    expect(since(today).inProgress).toHaveLength(1);
    const days = (count: number): string => new Date(NOW - count * 86_400_000).toISOString();
    expect(since(days(2)).inProgress).toHaveLength(1);
    expect(since(days(2.01)).inProgress).toEqual([]);
  });

  it('in-progress of anything else is nothing of a hip', () => {
    for (const code of ['0SG0070', '0DTJ4ZZ'])
      expect(history(procedure('a', code, { status: 'in-progress', ...NOW_BEGUN })).inProgress).toEqual([]);
  });

  it.each(['completed', 'preparation', 'in-progress'])(
    '%s with an unknown modifier cannot be used',
    (status) => {
      const given = history(
        procedure('a', PUT_IN_LEFT, { status, modifierExtension: [{ url: 'http://example.org/not' }] }),
      );
      expect(given).toMatchObject({ arthroplasties: [], planned: [], inProgress: [] });
      expect(why(given).join()).toMatch(/modifier/);
    },
  );
});

// Truth: published notes: Revision by external approach is the closed reduction of a prosthesis; Reposition is the native
// joint, yet coders use both: it counts when a prosthesis is present.
describe('a closed reduction', () => {
  const reductions = (...procedures: readonly JsonObject[]): readonly string[] =>
    history(...procedures).closedReductions.map(
      ({ joint, side, date }) => `${joint} ${sideText(side)} ${date ?? 'undated'}`,
    );

  it.each(['0SWBXJZ', '0SWEXJZ', '0SWSXJZ'])('by %s is one of a prosthesis', (code) => {
    expect(reductions(procedure('a', code))).toEqual(['prosthesis left 2019-03-04']);
  });

  it('of a native joint is unclear, until a replacement of that hip is known before it', () => {
    const reduced = procedure('r', '0SSBXZZ', on('2020-01-02'));
    expect(reductions(reduced)).toEqual(['unclear left 2020-01-02']);
    expect(reductions(reduced, procedure('a', PUT_IN_LEFT))).toEqual(['prosthesis left 2020-01-02']);
    expect(reductions(reduced, procedure('a', '0SRS0J9'))).toEqual(['prosthesis left 2020-01-02']);
    expect(reductions(reduced, procedure('a', PUT_IN_RIGHT))).toEqual(['unclear left 2020-01-02']);
    expect(reductions(reduced, procedure('a', PUT_IN_LEFT, on('2024-06-01')))).toEqual([
      'unclear left 2020-01-02',
    ]);
  });

  it('counts once a day and hip, and each day again', () => {
    expect(
      reductions(
        procedure('a', '0SW9XJZ', on('2020-01-02')),
        procedure('b', '0SS9XZZ', on('2020-01-02')),
        procedure('c', '0SW9XJZ', on('2020-02-11')),
        procedure('d', '0SWBXJZ', on('2020-01-02')),
      ),
    ).toEqual(['prosthesis right 2020-01-02', 'prosthesis left 2020-01-02', 'prosthesis right 2020-02-11']);
  });
});

it('what is told does not depend on the order of the Procedures', () => {
  // Truth: the project's own: same input, same bytes.
  const procedures = [
    procedure('a', TAKEN_OUT_RIGHT),
    procedure('b', PUT_IN_RIGHT),
    procedure('c', PUT_IN_LEFT),
    procedure('d', snomed(CODE.totalHipLeft)),
    procedure('e', '0SWBXJZ', on('2020-01-02')),
    procedure('f', '0SSBXZZ', on('2020-01-02')),
    procedure('g', snomed(CODE.totalHipBoth), on('2021-01-01')),
    procedure('h', snomed('735194005'), { status: 'preparation' }),
    procedure('i', PUT_IN_LEFT, { status: 'unknown' }),
  ];
  const straight = JSON.stringify(history(...procedures));
  fc.assert(
    fc.property(fc.shuffledSubarray(procedures, { minLength: procedures.length }), (shuffled) => {
      expect(JSON.stringify(history(...shuffled))).toBe(straight);
    }),
    { seed: 20261125 },
  );
});

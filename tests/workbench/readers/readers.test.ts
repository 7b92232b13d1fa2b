import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { newAdvisor } from '../../../src/advice/index.js';
import { READERS, readerPages } from '../../../src/workbench/readers/reader-pages.js';
import { compare } from '../../../src/workbench/readers/reading-page.js';
import type { ToldPatient } from '../../../src/workbench/readers/told-of-patient.js';
import { shipped } from '../../rulebook/shipped.js';

const pages = await readerPages(newAdvisor(shipped), '0.1.0');

const sine = (angle: number): number => Math.sin((angle * Math.PI) / 180);

/** The reader's patient of this name, everything told of one of its patients as one text. */
function toldText(patient: string): string {
  const told = pages.flatMap((page) => page.told).find(({ name }) => name === patient);
  if (!told) throw new Error(`no reader meets ${patient}`);
  return told.results.flatMap(({ lines }) => lines).join('\n');
}

const millimetres = (value: number): string => `${value.toFixed(1)} mm`;
const degrees = (value: number): string => `${Math.round(value)}°`;

describe('the readers’ patients', () => {
  it('are the seventeen that must be complete, each with what a surgeon would expect', () => {
    expect(pages.map(({ reading }) => reading.id)).toEqual([
      'dual-mobility-reduced',
      'dysplasia',
      'failed-metal-bearing',
      'fixed-posterior-pelvis',
      'fracture-with-dementia',
      'fused-spine',
      'lipped-liner-the-wrong-way',
      'nothing-known-and-negative-twins',
      'parkinson-with-posterior-approach',
      'retained-stem',
      'retroverted-femur',
      'short-leg',
      'steep-cup-with-large-head',
      'textbook-hip',
      'third-dislocation',
      'weak-abductors-with-lost-offset',
      'wear-at-13-years',
    ]);
  });

  it('tells of each page whether its left column was written by someone who had read the rules', () => {
    const readTheRules = pages.filter(({ page }) => page.includes('knew some texts of the rules'));
    expect(readTheRules.map(({ reading }) => reading.id)).toEqual([
      'dysplasia',
      'fused-spine',
      'lipped-liner-the-wrong-way',
      'retroverted-femur',
      'steep-cup-with-large-head',
      'textbook-hip',
    ]);
    expect(pages.filter(({ page }) => page.includes('had not read the rules'))).toHaveLength(11);
  });

  it.each(pages)('$reading.id: every line expected is told as written, or stands as a gap', ({ faults }) => {
    expect(faults).toEqual([]);
  });

  it.each(pages)('$reading.id: the page written beside it is not stale (npm run readers)', (one) => {
    expect(readFileSync(join(READERS, `${one.reading.id}.md`), 'utf8')).toBe(one.page);
  });

  it.each(pages)('$reading.id: no two lines of the reasoning are the same', ({ reading }) => {
    const lines = reading.expected.map(({ expects }) => expects);
    expect(new Set(lines).size).toBe(lines.length);
  });
});

// Truth: closed-form, worked out here and not by the engine.
describe('two numbers of each reader’s patient, by hand:', () => {
  it('steep cup: 36 mm jump 36·sin((90° − 60°)/2) at 60° and 36·sin(25°) at 40°; the slope is sin(15°)', () => {
    const text = toldText('steep-cup-large-head');
    expect(text).toContain(`jump distance ${millimetres(36 * sine(15))}`);
    expect(text).toContain(`40° → ${millimetres(36 * sine(25))}`);
    expect(text).toContain(`adds ${sine(15).toFixed(2)} mm per mm`);
  });

  it('retroverted femur: sum 20 − 3, and a line that asks for 37.3 − 0.7 × (−3)', () => {
    const text = toldText('retroverted-femur');
    expect(text).toContain(`sum ${degrees(20 - 3)}`);
    expect(text).toContain(`one model’s line would give ${degrees(37.3 + 0.7 * 3)}`);
  });

  it('fused spine: an axis turned by 22° about the transverse, and 54° of incidence less 30° of lordosis', () => {
    // Axis of a cup of 40/25 (anterior, cranial, lateral), turned backward by 22°.
    const [anterior, cranial, lateral] = [sine(25), -sine(65) * sine(50), sine(65) * sine(40)];
    const turned = [
      anterior * sine(68) - cranial * sine(22),
      anterior * sine(22) + cranial * sine(68),
      lateral,
    ] as const;
    const inclination = (Math.atan2(turned[2], -turned[1]) * 180) / Math.PI;
    const anteversion = (Math.asin(turned[0]) * 180) / Math.PI;
    const text = toldText('fixed-posterior-pelvis');
    expect(text).toContain(`standing cup ${degrees(inclination)}/${degrees(anteversion)}`);
    expect(text).toContain(`incidence minus lordosis ${degrees(54 - 30)}`);
    expect(toldText('hypermobile-pelvis')).toContain(`pelvis moves ${degrees(45 - 10)}`);
  });

  it('dysplasia: 28 mm jump 28·sin(18°) at 54° and 28·sin(22.5°) at 45°; the ratio is 28/12', () => {
    const text = toldText('dysplasia-54');
    expect(text).toContain(`jump distance ${millimetres(28 * sine(18))}`);
    expect(text).toContain(`45° → ${millimetres(28 * sine(22.5))}`);
    expect(text).toContain(`ratio ${(28 / 12).toFixed(2)}`);
  });

  it('lipped liner: behind, a rim is left after 90° and the operative anteversion, and after 15° more with the lip', () => {
    const operative = (Math.atan2(sine(22), sine(68) * sine(48)) * 180) / Math.PI;
    const text = toldText('lipped-liner-wrong-way');
    expect(text).toContain(
      `posterior jump distance ${millimetres(32 * sine((90 + operative + 15) / 2))}, neutral ${millimetres(32 * sine((90 + operative) / 2))}`,
    );
  });

  it('textbook hip: it is inside every range, 20 + 15 and 36/12 among them, and silent', () => {
    expect(20 + 15).toBeLessThan(60);
    expect(36 / 12).toBeGreaterThan(2.37);
    const { told } = pages.find(({ reading }) => reading.id === 'textbook-hip') ?? { told: [] };
    expect(told.map(({ results }) => results.filter(({ place }) => place === 'card'))).toEqual([[], []]);
  });
});

describe('a reader’s page notices', () => {
  const patient = (place: 'card' | 'cannot-tell', line: string): ToldPatient => ({
    name: 'somebody',
    teaches: 'nothing',
    results: [{ rule: 'a-rule', place, hook: 'order-sign', lines: [line] }],
  });
  const reading = { id: 'one', title: 'One', plan: 'A plan.', patients: ['somebody'] };
  const answers = [{ patient: 'somebody', rule: 'a-rule', says: 'cup 60°' }];

  it('words that are not said any more', () => {
    const expected = [{ expects: 'the cup', answers }];
    expect(compare({ ...reading, expected }, [patient('card', 'cup 60°')])[0]?.faults).toEqual([]);
    expect(compare({ ...reading, expected }, [patient('card', 'cup 61°')])[0]?.faults).toEqual([
      'somebody: a-rule does not say "cup 60°" any more',
    ]);
  });

  it('a card where silence was expected, at that hook', () => {
    const silence = ['somebody'];
    expect(
      compare({ ...reading, expected: [{ expects: 'silence', silence }] }, [patient('card', 'cup')])[0]
        ?.faults,
    ).toEqual(['somebody: a card of a-rule']);
    expect(
      compare({ ...reading, expected: [{ expects: 'silence', silence, at: 'appointment-book' as const }] }, [
        patient('card', 'cup'),
      ])[0]?.faults,
    ).toEqual([]);
  });

  it('words on a card that no card should hold, of that rule or of any', () => {
    const faultsOf = (rule: string | undefined, place: 'card' | 'cannot-tell'): readonly string[] =>
      compare(
        {
          ...reading,
          expected: [{ expects: 'no rim', unsaid: [{ patient: 'somebody', rule, says: 'rim' }] }],
        },
        [patient(place, 'elevated rim')],
      ).flatMap(({ faults }) => faults);
    expect(faultsOf(undefined, 'card')).toEqual(['somebody: a card of a-rule says "rim"']);
    expect(faultsOf('a-rule', 'card')).toHaveLength(1);
    expect(faultsOf('another-rule', 'card')).toEqual([]);
    expect(faultsOf(undefined, 'cannot-tell')).toEqual([]);
  });

  it('a gap that is none any more', () => {
    const expected = [{ expects: 'the liner', gap: 'nothing says it', wouldSay: 'liner' }];
    expect(compare({ ...reading, expected }, [patient('cannot-tell', 'liner')])[0]?.faults).toEqual([]);
    expect(compare({ ...reading, expected }, [patient('card', 'liner of 4 mm')])[0]?.faults).toHaveLength(1);
  });
});

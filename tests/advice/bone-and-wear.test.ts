import { describe, expect, it } from 'vitest';
import { recordNamed } from '../rulebook/evidence.js';
import { shipped } from '../rulebook/shipped.js';
import { cardFor, fiveLines } from '../render/cards.js';
import { advisoryOf } from './hand-made.js';
import { answerFor, testPatient } from './patients.js';

const WEAR = 'eccentric-wear-in-place';
const BONE = 'bone-meets-before-neck';

const inDegrees = (radians: number): number => (radians * 180) / Math.PI;

/** Travel of a neck in a liner of 180° whose bore goes on straight above a center that sank. */
function travel(head: number, neck: number, sunk: number): number {
  const [radius, away] = [head / 2, Math.hypot(head / 2, sunk)];
  return 2 * (90 - inDegrees(Math.atan2(sunk, radius)) - inDegrees(Math.asin(neck / 2 / away)));
}

describe('numbers of a worn bearing', () => {
  it('are the arc and the volume worked out by hand for 28 over 12 mm, sunk 2.6 mm', async () => {
    // Truth: closed form, as the derived table osc-axial-penetration has it: 15.71 degrees at 2 mm; volume pi R^2 w.
    expect(travel(28, 12, 0) - travel(28, 12, 2)).toBeCloseTo(15.71, 2);
    const [arc, volume] = [travel(28, 12, 0) - travel(28, 12, 2.6), Math.PI * 14 ** 2 * 2.6];
    const card = cardFor(
      (await answerFor(testPatient('worn-liner-13-years-clean').bundle, 'patient-view')).cards,
      WEAR,
    );
    expect(fiveLines(card)[0]).toContain(
      `at most ${arc.toFixed(0)}° of arc, ${volume.toFixed(0)} mm³ lost (model)`,
    );
    expect([arc.toFixed(0), volume.toFixed(0)]).toEqual(['20', '1601']);
  });

  it('of what bearings wear are those of their records', () => {
    // Truth: published, 45 patients by radiostereometry and a trial at thirteen years.
    const told = (shipped.rules.find(({ id }) => id === WEAR)?.effects ?? [])
      .map(({ says }) => says)
      .join('\n');
    const trial = recordNamed('xlpe-rct-13-year')['value'] as Readonly<Record<string, number>>;
    const rsa = recordNamed('xlpe-rsa-10-year-2021')['value'] as Readonly<Record<string, number>>;
    expect(told).toContain(`${trial['conventionalMmPerYear']} mm a year (SD ${trial['conventionalSd']})`);
    expect(told).toContain(`(SD ${trial['xlpeSd']})`);
    expect(told).toContain(`${rsa['xlpeMmPerYear']} mm a year after`);
    const lysis = recordNamed('xlpe-osteolysis-10-year-cohort')['value'] as Readonly<Record<string, number>>;
    expect(told).toContain(
      `${lysis['acetabularOsteolysisPct']} % had lysis at the cup and ${lysis['femoralOsteolysisPct']} %`,
    );
  });
});

describe('bone met before neck and rim', () => {
  it('is told of a 36 mm head on a neck of 12 mm, whose travel is 141 degrees, and on no card', async () => {
    // Truth: closed form, 2 acos(neck / head); clinical decisions §1: the textbook hip yields no card.
    expect(2 * inDegrees(Math.acos(12 / 36))).toBeCloseTo(141.06, 2);
    const answer = await answerFor(testPatient('textbook-hip').bundle, 'order-sign');
    expect(answer.cards).toEqual([]);
    expect(advisoryOf(answer, BONE, 'planned').outcome).toBe('fires');
  });

  it('gives degrees of published models as printed, and never those of the cadavers', () => {
    // Truth: clinical decisions §5: 4 to 15 degrees for each step of offset; the larger figures stay on the validation page.
    const told = (shipped.rules.find(({ id }) => id === BONE)?.effects ?? [])
      .map(({ says }) => says)
      .join('\n');
    const stem = recordNamed('high-offset-rom-gain')['value'] as Readonly<Record<string, number>>;
    expect(told).toContain(`${stem['allLow']}–${stem['allHigh']}°`);
    expect(told).toContain(`${stem['correctiveLow']}–${stem['correctiveHigh']}°`);
    expect(told).toContain(`${stem['overshootLow']}–${stem['overshootHigh']}°`);
    for (const cadaver of ['21.1', '26.7', '13.7', '21.2']) expect(told).not.toContain(cadaver);
  });

  it('never makes a card of the iliac spine', () => {
    // Truth: clinical decisions §5 and §7: the anterior inferior iliac spine never opens a card.
    const spine = shipped.rules.find(({ id }) => id === 'iliac-spine-prominent');
    expect(spine?.tells).toBe('page');
    const range = recordNamed('aiis-types-rom')['value'] as Readonly<Record<string, number>>;
    expect((spine?.effects ?? []).map(({ says }) => says).join('\n')).toContain(
      `flexion ${range['flexionI']}, ${range['flexionII']} and ${range['flexionIII']}°, internal rotation ${range['internalRotationI']}, ${range['internalRotationII']} and ${range['internalRotationIII']}°`,
    );
  });
});

import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { coded, condition, measure, order, quantity, snomed } from '../facts/records.js';
import { evidenceParameters } from '../rulebook/evidence.js';
import { cardFor, fiveLines } from '../render/cards.js';
import { advisoryOf, answerToHandMade, spineAngle } from './hand-made.js';
import { answerFor, testPatient } from './patients.js';
import type { Answer } from './patients.js';
import { ask, plan } from './signed.js';

type Zones = Readonly<Record<string, Readonly<Record<'inclination' | 'anteversion', readonly number[]>>>>;

/** The published ranges as the dossier has them, by the name the page gives them. */
const ZONES = evidenceParameters.get('cup-target-zones-published')?.value as Zones;
const NAMES: Readonly<Record<string, string>> = {
  classical: 'classical',
  registry: 'one center',
  lowestRatio: 'lowest dislocation ratio',
  pooledRecommendations: 'pooled recommendations',
};

function isInside(value: number, [low = NaN, high = NaN]: readonly number[]): boolean {
  return value >= low && value <= high;
}

function signed(inclination: number, anteversion: number): Promise<Answer> {
  return answerToHandMade('order-sign', { measures: plan(inclination, anteversion, 15) });
}

const INCLINATIONS = [28, 29.9, 30, 31, 32, 37, 38, 40, 45, 45.1, 50, 50.1, 58, 58.1, 62];
const ANTEVERSIONS = [2, 4.9, 5, 7, 8, 13.9, 14, 20, 25, 25.1, 30, 34, 34.1, 38];
const ANGLES = [
  ...INCLINATIONS.map((value) => ['inclination', value] as const),
  ...ANTEVERSIONS.map((value) => ['anteversion', value] as const),
];

describe('a planned cup against each published range', () => {
  it.each(ANGLES)(
    'of %s %d is told to lie inside or outside of each, where they disagree',
    async (angle, value) => {
      // Truth: published, cup-target-zones-published: Lewinnek, Callanan, the zone quoted from Esposito, Turley.
      const answer = await (angle === 'inclination' ? signed(value, 20) : signed(40, value));
      const advisory = advisoryOf(answer, `cup-${angle}-ranges-disagree`, 'planned');
      const inside = Object.entries(ZONES).map(
        ([name, zone]) => [name, isInside(value, zone[angle])] as const,
      );
      const disagree = new Set(inside.map(([, is]) => is)).size === 2;
      expect(advisory.outcome).toBe(disagree ? 'fires' : 'does-not-fire');
      const found = advisory.fired?.finding.found.join('; ') ?? '';
      if (disagree)
        for (const [name, is] of inside)
          expect(found).toMatch(new RegExp(`${NAMES[name] ?? '?'} [^;]*: ${is ? 'inside' : 'outside'}`));
    },
  );

  it('of 40/20 lies inside all of them, and one of 48/10 makes no card of it', async () => {
    // Truth: clinician, the audit of the evidence: the zones overlap at 38-45 and 14-25 degrees.
    const all = Object.values(ZONES);
    expect(all.every((zone) => isInside(40, zone.inclination) && isInside(20, zone.anteversion))).toBe(true);
    expect((await signed(48, 10)).cards).toEqual([]);
  });
});

const rad = (deg: number): number => (deg * Math.PI) / 180;
const deg = (radians: number): number => (radians * 180) / Math.PI;

/** A radiographic cup after the pelvis has rolled back: operative inclination stays, operative anteversion grows by it. */
function rolledBack(inclination: number, anteversion: number, by: number): readonly [number, number] {
  const operativeInclination = Math.asin(Math.cos(rad(anteversion)) * Math.sin(rad(inclination)));
  const operative = Math.atan(Math.tan(rad(anteversion)) / Math.cos(rad(inclination))) + rad(by);
  return [
    deg(Math.atan(Math.tan(operativeInclination) / Math.cos(operative))),
    deg(Math.asin(Math.sin(operative) * Math.cos(operativeInclination))),
  ];
}

function tilted(planned: number, version: number, supine: number, standing: number): Promise<Answer> {
  return answerToHandMade('order-sign', {
    measures: [
      ...plan(planned, version, 15, 'posterior'),
      spineAngle('app-tilt-supine', supine),
      spineAngle('app-tilt-standing', standing),
    ],
  });
}

describe('a pelvis that turns on standing', () => {
  it.each([
    [40, 25, 0, -22, '50°/41°', /opens forward, anterior side/],
    [40, 20, 0, 22, '37°/3°', /closes, posterior side/],
  ])(
    'takes a cup of %d/%d from tilt %d to %d: it stands at %s',
    async (planned, version, supine, standing, stands, side) => {
      // Truth: closed form, Murray 1993; 40/25 with 22 degrees: clinical decisions §4, 50.2/40.7.
      const [inclination, anteversion] = rolledBack(planned, version, supine - standing);
      expect(`${inclination.toFixed(0)}°/${anteversion.toFixed(0)}°`).toBe(stands);
      const answer = await tilted(planned, version, supine, standing);
      const { fired } = advisoryOf(answer, 'standing-tilt-moves-cup', 'planned');
      expect(fired?.numbers.get('stands-inclination')?.value).toBeCloseTo(inclination, 4);
      expect(fired?.numbers.get('stands-anteversion')?.value).toBeCloseTo(anteversion, 4);
      const card = cardFor(answer.cards, 'standing-tilt-moves-cup');
      expect(card.summary).toMatch(side);
      expect(card.detail).toContain(`standing cup ${stands}`);
      expect(card.detail).toMatch(
        /relaxed-seated film first: without it neither seated cup nor stiffness is known/,
      );
      // Clinical decisions §6: only a standing film: no option adds anteversion or takes it away.
      expect(fiveLines(card)[1]).not.toMatch(/more|less|add/i);
      expect(advisoryOf(answer, 'cup-stands-outside-published', 'planned').outcome).toBe('fires');
    },
  );

  it('leaves the word to the kind of spine where that has a card', async () => {
    const { bundle } = testPatient('fixed-posterior-pelvis');
    const answer = await answerFor(bundle, 'order-sign');
    expect(advisoryOf(answer, 'standing-tilt-moves-cup', 'planned').outcome).toBe('fires');
    expect(answer.cards.map(({ source }) => source.topic.code)).toEqual(['spine-phenotype']);
  });
});

const DISLOCATED = [condition('d', 'T84.021A')];
const stemHigh = (cup: number, more: readonly JsonObject[] = []): readonly JsonObject[] => [
  ...plan(40, cup, 36, 'posterior'),
  ...more,
];

describe('a stem with much anteversion', () => {
  it.each([0, 5, 12, 19.9, 20, 20.1, 23, 24])(
    'beside a cup of %d at a posterior approach never takes cup anteversion that is 20 or less',
    async (cup) => {
      // Truth: clinical decisions §6: posterior approach: no option lowers anteversion when it is 20 or less.
      const { lines } = await ask('stem-anteversion-high', { measures: stemHigh(cup) });
      expect(lines[1]).toMatch(/stem first: version-independent, cemented or modular, or re-broached/);
      expect(/less cup anteversion, not below 20°/.test(lines[1] ?? '')).toBe(cup > 20);
    },
  );

  it.each([
    ['not recorded', []],
    ['not found', [measure('dislocation-direction', coded('unknown'), { stages: ['postoperative'] })]],
  ])('in an unstable hip whose direction is %s is turned by no option', async (_name, direction) => {
    const { lines } = await ask('stem-anteversion-high', {
      measures: stemHigh(24, direction),
      conditions: DISLOCATED,
    });
    expect(lines[1]).toMatch(
      /no change · infection markers .* · direction and count of dislocations first\.$/,
    );
  });

  it('says that its limit is common practice and which side it weighs', async () => {
    // Truth: published, parameter stem-anteversion-high-limit: no limit is published.
    const { card, lines } = await ask('stem-anteversion-high', { measures: stemHigh(20) });
    expect(card?.summary).toMatch(/above 30°: anterior side weighed/);
    expect(lines[2]).toMatch(/anterior dislocation evidence: very low; 30° as limit: common practice/);
  });
});

describe('a femur whose version is not free', () => {
  it('is told once: where the stem has a card, that card names the slip', async () => {
    const answer = await answerFor(testPatient('retroverted-femur').bundle, 'order-sign');
    expect(advisoryOf(answer, 'femoral-version-not-free', 'planned').outcome).toBe('fires');
    expect(answer.cards.map(({ source }) => source.topic.code)).toEqual(['stem-anteversion-low']);
    expect(answer.cards[0]?.detail).toMatch(/slipped capital femoral epiphysis: stem may follow/);
  });

  it('is told with what was measured in such femurs', async () => {
    // Truth: published, femoral-version-dysplasia and stem-versus-native-version-straight.
    const answer = await answerFor(testPatient('short-leg-dysplasia').bundle, 'order-sign');
    const { detail } = cardFor(answer.cards, 'femoral-version-not-free');
    expect(detail).toMatch(/21\.7° on average in Crowe I, 26\.8° in II and III, 43\.6° in IV/);
    expect(detail).toMatch(/differed from the femur by 1\.9 \(SD 9\.5\)°, from -20\.7 to 21\.5°/);
  });

  it('is not asked about in a revision, whose stem left it long ago', async () => {
    const { outcome } = await ask('femoral-version-not-free', {
      measures: plan(40, 20, 15),
      orders: [order({ code: snomed('112727005') })],
      conditions: [condition('x', 'Q65.89')],
    });
    expect(outcome).toBe('not-applicable');
  });
});

describe('a posterior approach', () => {
  const repair = (kind: string): readonly JsonObject[] => [
    ...plan(40, 20, 15, 'posterior'),
    measure('soft-tissue-repair', coded(kind)),
  ];

  it('without repair names the repair, the large ratio and the trials that do not find it', async () => {
    // Truth: published, posterior-soft-tissue-repair (Kwon 2006) and zhou2017-repair.
    const { card, lines } = await ask('posterior-approach-without-repair', { measures: repair('none') });
    expect(lines[1]).toMatch(/no change · capsule and short-rotator repair, by local technique/);
    expect(card?.detail).toMatch(/RR 8\.21 \(95 % CI 4\.05–16\.67\)/);
    expect(card?.detail).toMatch(/trials pooled alone showed no significant difference/);
  });

  it('with a repair of the capsule alone says nothing', async () => {
    const { outcome } = await ask('posterior-approach-without-repair', { measures: repair('capsule') });
    expect(outcome).toBe('does-not-fire');
  });

  it('is weighed on the page alone', async () => {
    const answer = await answerToHandMade('order-sign', {
      measures: repair('capsule-and-rotators'),
      conditions: [condition('p', 'G20')],
    });
    expect(advisoryOf(answer, 'approach-weighed', 'planned').outcome).toBe('fires');
    expect(answer.cards.map(({ source }) => source.topic.code)).not.toContain('approach-weighed');
  });
});

describe('a stiff spine', () => {
  const stiff = (cup: readonly JsonObject[]): Promise<Answer> =>
    answerToHandMade('order-sign', {
      measures: [
        ...cup,
        spineAngle('app-tilt-standing', 2),
        spineAngle('app-tilt-relaxed-seated', -1),
        spineAngle('lumbar-lordosis-standing', 30),
        spineAngle('lumbar-lordosis-flexed-seated', 18),
      ],
    });
  const only = (code: string, value: number): JsonObject => measure(code, quantity(value, 'deg'));

  it.each([
    ['an unknown cup', [], false],
    ['a cup of which one angle is known', [only('cup-inclination', 40)], false],
    ['a cup of 40/20', plan(40, 20, 15), true],
    ['a flat cup', plan(28, 20, 15), true],
    ['a steep cup', plan(52, 20, 15), false],
    ['a cup turned far forward', plan(40, 34, 15), false],
    ['a far anteverted stem', plan(40, 25, 36), false],
  ] as const)('beside %s offers more anteversion or inclination: %#', async (_name, cup, offered) => {
    // Truth: clinician, clinical decisions §6; more than what is not known is no option.
    const answer = await stiff(cup);
    const options = fiveLines(cardFor(answer.cards, 'spine-phenotype'))[1] ?? '';
    expect(/more anteversion or inclination than/.test(options)).toBe(offered);
    expect(options).toMatch(/dual mobility/);
  });
});

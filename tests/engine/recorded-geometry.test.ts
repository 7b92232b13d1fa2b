import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { computeAll } from '../../src/engine/compute.js';
import type { Computed } from '../../src/engine/compute.js';
import { COMPUTATIONS } from '../../src/engine/computations.js';
import { deriveFacts } from '../../src/engine/derive.js';
import type { ConstructKind } from '../../src/facts/definitions.js';
import type { Fact } from '../../src/facts/fact.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { coded, hipOf, intervalOf, measure, quantity, read } from '../facts/records.js';
import { shipped } from '../rulebook/shipped.js';
import { code, factMap, flag, number, unknown } from './facts.js';

/** Numbers of head, neck and rim on the geometry a record states: skirt, lip, turned face, chamfer, opening, two balls. */

type Value = number | string | boolean;

function valueOf(id: string, value: Value): JsonObject {
  if (typeof value === 'string') return coded(value);
  if (typeof value === 'boolean') return { valueBoolean: value };
  return quantity(value, shipped.factById.get(id)?.kind === 'measure' ? unitOf(id) : 'mm');
}

function unitOf(id: string): string {
  const definition = shipped.factById.get(id);
  return definition && 'unit' in definition ? (definition.unit ?? '1') : '1';
}

const PLAN = {
  'cup-inclination': 40,
  'cup-anteversion': 15,
  'head-diameter': 36,
  'neck-diameter': 12,
  'stem-anteversion': 15,
} as const;

type Values = Readonly<Record<string, Value>>;

function factsOf(values: Values, construct: ConstructKind = 'planned'): ReadonlyMap<string, Fact> {
  const stages = [construct === 'planned' ? 'planned' : 'postoperative'];
  const measures = Object.entries(values).map(([id, value]) => measure(id, valueOf(id, value), { stages }));
  return deriveFacts(hipOf(read({ measures, construct })).facts, construct, shipped.knowledge);
}

function computed(id: string, values: Values, construct: ConstructKind = 'planned'): Computed {
  const found = computeAll({ rulebook: shipped, table: COMPUTATIONS, facts: factsOf(values, construct) });
  const one = found.get(id);
  if (!one) throw new Error(`no computation ${id}`);
  expect(one.failure).toBeUndefined();
  return one;
}

function without(values: Values, id: string): Values {
  return Object.fromEntries(Object.entries(values).filter(([name]) => name !== id));
}

const shown = (id: string, values: Values): number => computed(id, values).shown ?? NaN;

const RAD = Math.PI / 180;
const acos = (cosine: number): number => Math.acos(cosine) / RAD;
const asin = (sine: number): number => Math.asin(sine) / RAD;

// Truth: closed form: the rim meets the widest of neck and skirt: half the oscillation angle is acos(diameter / head).
describe('a skirted head', () => {
  const skirted = { ...PLAN, 'head-diameter': 28, 'skirted-head': true, 'skirt-diameter': 16 };

  it('sweeps acos(skirt / head) to either side, and has the ratio of its skirt', () => {
    expect(shown('oscillation-angle', skirted)).toBeCloseTo(2 * acos(16 / 28), 5);
    expect(shown('head-neck-ratio', skirted)).toBeCloseTo(28 / 16, 8);
    const plain = without({ ...skirted, 'skirted-head': false }, 'skirt-diameter');
    expect(shown('oscillation-angle', plain)).toBeCloseTo(2 * acos(12 / 28), 5);
    const lost = shown('impingement-margin', plain) - shown('impingement-margin', skirted);
    expect(lost).toBeCloseTo(acos(12 / 28) - acos(16 / 28), 5);
  });

  it('with a skirt thinner than the neck has the ratio of its neck', () => {
    expect(shown('head-neck-ratio', { ...skirted, 'skirt-diameter': 11 })).toBeCloseTo(28 / 12, 8);
  });

  it('is said to have none where nothing was stated, and where that was stated nothing is assumed', () => {
    expect(computed('head-neck-ratio', PLAN).assumptions).toEqual(['head without skirt, none stated']);
    expect(computed('head-neck-ratio', { ...PLAN, 'skirted-head': false }).assumptions).toEqual([]);
    expect(computed('head-neck-ratio', skirted).assumptions).toEqual([
      'skirt that reaches the rim, length not stated',
    ]);
  });

  it('of unknown thickness lies between the bare neck and no range at all: what holds for both is told', () => {
    const flagged = without(skirted, 'skirt-diameter');
    const { fact, shown: number } = computed('head-neck-ratio', flagged);
    expect(number).toBeUndefined();
    expect(intervalOf(fact)?.[1]).toBeCloseTo(28 / 12, 8);
    expect(intervalOf(fact)?.[0]).toBeCloseTo(1, 5);
    expect(fact.narrowedBy).toEqual(['skirt-diameter']);
  });

  it('in two balls meets the rim of the cup only where its skirt is long enough', () => {
    // Truth: closed form: a skirt from the inner head's sphere of radius 14, 8 mm thick to either side.
    const dual = { ...skirted, 'liner-type': 'dual-mobility', 'mobile-liner-diameter': 42 };
    const rim = Math.sqrt(21 ** 2 - 8 ** 2) - Math.sqrt(14 ** 2 - 8 ** 2);
    const half = (length: number): number =>
      shown('oscillation-angle', { ...dual, 'skirt-length': length }) / 2;
    expect(half(rim - 0.1)).toBeCloseTo(acos(12 / 42), 5);
    expect(half(rim + 0.1)).toBeCloseTo(acos(16 / 42), 5);
    expect(shown('head-neck-ratio', { ...dual, 'skirt-length': rim - 0.1 })).toBeCloseTo(42 / 12, 8);
    expect(shown('head-neck-ratio', { ...dual, 'skirt-length': rim + 0.1 })).toBeCloseTo(42 / 16, 8);
  });
});

describe('a dual mobility bearing', () => {
  it('turns in the cup about its mobile liner: acos(neck / mobile liner)', () => {
    // Truth: clinical decisions §4: the mobile liner is the effective head.
    const dual = { ...PLAN, 'head-diameter': 28, 'liner-type': 'dual-mobility', 'mobile-liner-diameter': 42 };
    expect(shown('oscillation-angle', dual)).toBeCloseTo(2 * acos(12 / 42), 5);
    const gain =
      shown('impingement-margin', dual) - shown('impingement-margin', { ...PLAN, 'head-diameter': 28 });
    expect(gain).toBeCloseTo(acos(12 / 42) - acos(12 / 28), 5);
  });

  it('of unknown size has no margin: the inner head never stands in', () => {
    const { fact, shown: margin } = computed('impingement-margin', {
      ...PLAN,
      'liner-type': 'dual-mobility',
    });
    expect(margin).toBeUndefined();
    expect(fact.state).toMatchObject({ status: 'unknown', needs: ['mobile-liner-diameter'] });
  });
});

describe('an elevated rim', () => {
  const lipped = {
    ...PLAN,
    'liner-type': 'elevated-rim',
    'liner-elevation-angle': 15,
    'liner-elevation-arc': 90,
    'liner-elevation-position': 120,
  };

  it('posteroinferior adds its cover behind and takes none of the range in front', () => {
    // Truth: clinical decisions §4, §5: 36 mm at 40/15: 20.83 anterior, 29.36 posterior; a posteroinferior lip raises the
    // posterior jump and leaves the contact in flexion unchanged. 90 + OA is 109.28; 18 sin of half of it and the lip.
    const operative = Math.atan2(Math.tan(15 * RAD), Math.cos(40 * RAD)) / RAD;
    expect(shown('jump-distance-anterior', PLAN).toFixed(2)).toBe('20.83');
    expect(shown('jump-distance-posterior', PLAN).toFixed(2)).toBe('29.36');
    expect(shown('jump-distance-posterior', lipped)).toBeCloseTo(
      36 * Math.sin(((90 + operative + 15) / 2) * RAD),
      5,
    );
    expect(shown('jump-distance-anterior', lipped)).toBeCloseTo(shown('jump-distance-anterior', PLAN), 6);
    expect(shown('jump-distance', lipped)).toBeCloseTo(shown('jump-distance', PLAN), 6);
    const { motion } = computed('impingement-margin', lipped);
    expect(motion).toBe('external rotation 40°');
    expect(computed('impingement-margin', PLAN).motion).toBe('internal rotation 30° at 90°');
  });

  it('takes its angle off the swing to its side', () => {
    // Truth: closed form: half the swing under a lip is acos(neck / head) less the lip.
    expect(shown('oscillation-angle', lipped)).toBeCloseTo(2 * acos(12 / 36) - 15, 5);
    expect(shown('oscillation-angle', { ...lipped, 'liner-elevation-arc': 200 })).toBeCloseTo(
      2 * (acos(12 / 36) - 15),
      5,
    );
  });

  it('told by its height covers what that height does on the head', () => {
    // Truth: closed form: asin(height / radius); 9 mm on 36 mm is 30 degrees.
    const high = without({ ...lipped, 'liner-elevation-height': 9 }, 'liner-elevation-angle');
    expect(intervalOf(factsOf(high).get('rim-elevation') ?? unknown('x'))).toEqual([30, 30]);
  });

  it('superior raises the superior jump distance, for which anteversion then counts', () => {
    // Truth: closed form, the superior rim point under the middle of the lip or beside it.
    const above = { ...lipped, 'liner-elevation-position': 0 };
    expect(shown('jump-distance', above)).toBeCloseTo(36 * Math.sin(((50 + 15) / 2) * RAD), 5);
    const { fact } = computed('jump-distance', without(above, 'cup-anteversion'));
    expect(fact.state).toMatchObject({ needs: ['cup-anteversion'] });
  });

  it.each([
    ['liner-elevation-angle', ['liner-elevation-angle']],
    ['liner-elevation-position', ['liner-elevation-position']],
  ] as const)('without its %s has no margin, and asks for it', (missing, needs) => {
    const rest = without(lipped, missing);
    const { fact, shown: margin } = computed('impingement-margin', rest);
    expect(margin).toBeUndefined();
    expect(fact.state).toMatchObject({ status: 'unknown', needs });
  });

  it('without its arc shows half of the rim, said aloud, and decides from no lip to one all round', () => {
    const rest = without(lipped, 'liner-elevation-arc');
    const { fact, shown: margin, assumptions } = computed('impingement-margin', rest);
    expect(assumptions).toContain('lip over half of the rim, arc not stated');
    expect(margin).toBe(shown('impingement-margin', { ...lipped, 'liner-elevation-arc': 180 }));
    expect(intervalOf(fact)).toEqual([
      shown('impingement-margin', { ...lipped, 'liner-elevation-arc': 350 }),
      shown('impingement-margin', PLAN),
    ]);
  });
});

describe('a turned face', () => {
  const turned = {
    ...PLAN,
    'liner-type': 'face-changing',
    'liner-face-angle': 10,
    'liner-face-direction': -90,
  };

  it('is the opening: ten degrees toward the front are a cup whose axis leans ten degrees further forward', () => {
    // Truth: clinical decisions §4: a face-changing liner turns, it adds no cover. Closed form: a cos t + e sin t.
    const [ri, ra] = [40 * RAD, 15 * RAD];
    const axis = [Math.sin(ra), -Math.cos(ra) * Math.cos(ri), Math.cos(ra) * Math.sin(ri)] as const;
    const across = Math.hypot(axis[0], axis[2]);
    const front = [axis[2] / across, 0, -axis[0] / across] as const;
    const [x, y, z] = [0, 1, 2].map(
      (index) => (axis[index] ?? 0) * Math.cos(10 * RAD) + (front[index] ?? 0) * Math.sin(10 * RAD),
    ) as [number, number, number];
    const same = {
      ...PLAN,
      'cup-inclination': Math.atan2(z, -y) / RAD,
      'cup-anteversion': asin(x),
    };
    for (const id of ['impingement-margin', 'jump-distance-anterior', 'jump-distance-posterior'])
      expect(shown(id, turned)).toBeCloseTo(shown(id, same), 5);
    expect(shown('jump-distance', turned)).toBeCloseTo(shown('jump-distance', same), 5);
    expect(shown('oscillation-angle', turned)).toBe(shown('oscillation-angle', PLAN));
  });

  it('without angle or direction leaves margins and distances unknown', () => {
    for (const missing of ['liner-face-angle', 'liner-face-direction']) {
      const rest = without(turned, missing);
      for (const id of ['impingement-margin', 'jump-distance', 'jump-distance-posterior'])
        expect(computed(id, rest).fact.state).toMatchObject({ status: 'unknown', needs: [missing] });
    }
  });
});

describe('opening, chamfer and center of the head', () => {
  it('of a constrained liner take half of what lacks to 180 degrees off each side and add it to the jump', () => {
    // Truth: closed form: the rim stands at half the opening from the axis.
    const held = { ...PLAN, 'liner-type': 'constrained', 'liner-opening-angle': 150 };
    expect(shown('oscillation-angle', held)).toBeCloseTo(150 - 2 * asin(12 / 36), 5);
    expect(shown('jump-distance', held)).toBeCloseTo(36 * Math.sin(((50 + 15) / 2) * RAD), 5);
  });

  it('wider than 180 degrees are a center outside the opening plane', () => {
    // Truth: closed form: 186 degrees about a 36 mm head are a center 18 sin 3 mm outside.
    const offset = 18 * Math.sin(3 * RAD);
    for (const id of ['oscillation-angle', 'impingement-margin', 'jump-distance', 'jump-distance-anterior'])
      expect(shown(id, { ...PLAN, 'liner-opening-angle': 186 })).toBeCloseTo(
        shown(id, { ...PLAN, 'head-center-offset': offset }),
        5,
      );
  });

  it('a chamfer lets the neck further over the rim and the head out sooner, at 45 degrees, said aloud', () => {
    // Truth: closed form: 1 mm of chamfer on 36 mm: its outer edge decides for the neck, its inner for the head.
    const chamfered = { ...PLAN, 'rim-chamfer': 1 };
    const outer = Math.sqrt(18 ** 2 - 1) + 1;
    expect(shown('oscillation-angle', chamfered)).toBeCloseTo(2 * (90 - asin(6 / outer)), 5);
    expect(shown('jump-distance', chamfered)).toBeCloseTo(36 * Math.sin(((50 - asin(1 / 18)) / 2) * RAD), 5);
    expect(computed('oscillation-angle', chamfered).assumptions).toContain(
      'chamfer of 45°, its angle is not recorded',
    );
  });

  it.each<[string, Values, readonly string[]]>([
    [
      'an opening beside a center off its plane',
      { 'liner-opening-angle': 160, 'head-center-offset': -2 },
      [],
    ],
    ['a chamfer on a narrow opening', { 'liner-opening-angle': 160, 'rim-chamfer': 1 }, []],
    ['a constrained liner without its opening', { 'liner-type': 'constrained' }, ['liner-opening-angle']],
    ['a neutral liner with a lip', { 'liner-type': 'neutral', 'liner-elevation-angle': 10 }, ['liner-type']],
    [
      'a skirt on a head said to have none',
      { 'skirted-head': false, 'skirt-diameter': 16 },
      ['skirted-head'],
    ],
    ['a skirt as thick as the head', { 'head-diameter': 28, 'skirt-diameter': 28 }, ['skirt-diameter']],
  ])('%s is no geometry to compute with: unknown, never the usual liner', (_what, more, needs) => {
    const { fact, shown: angle } = computed('oscillation-angle', { ...PLAN, ...more });
    expect(angle).toBeUndefined();
    expect(fact.state.status).toBe('unknown');
    if (fact.state.status === 'unknown') expect(fact.state.needs).toEqual(expect.arrayContaining([...needs]));
  });
});

// Truth: the project's design: a default serves what was never stated; a refused or conflicting value was stated.
describe('what was stated of rim or skirt and cannot be used', () => {
  const GATES = [
    ['rim-elevation', 'liner-elevation-angle'],
    ['rim-elevation', 'liner-elevation-height'],
    ['rim-turn', 'liner-face-angle'],
    ['rim-opening', 'liner-opening-angle'],
    ['rim-skirt', 'skirt-diameter'],
    ['rim-skirt', 'skirted-head'],
    ['rim-skirt-reach', 'skirt-length'],
    ['rim-elevation', 'liner-type'],
    ['rim-turn', 'liner-type'],
    ['rim-opening', 'liner-type'],
  ] as const;
  const NOT_STATED = [
    'liner-elevation-angle',
    'liner-elevation-height',
    'liner-face-angle',
    'liner-opening-angle',
    'liner-type',
    'skirt-diameter',
    'skirted-head',
    'skirt-length',
  ].map((id) => unknown(id));

  it.each(GATES)(
    'leaves %s unknown where %s was refused, conflicting or of an unknown side',
    (derived, measured) => {
      for (const reason of ['refused', 'conflicting', 'side-unknown'] as const) {
        const facts = deriveFacts(
          factMap(...NOT_STATED, unknown(measured, reason)),
          'planned',
          shipped.knowledge,
        );
        expect(facts.get(derived)?.state, reason).toMatchObject({ status: 'unknown', needs: [measured] });
        expect(facts.get(derived)?.state, reason).not.toMatchObject({ reason: 'not-recorded' });
      }
    },
  );

  it.each(['neutral', 'lateralized', 'dual-mobility'])(
    'a %s liner states that there is none of it',
    (kind) => {
      const facts = deriveFacts(
        factMap(...NOT_STATED, code('liner-type', kind)),
        'planned',
        shipped.knowledge,
      );
      for (const [id, value] of [
        ['rim-elevation', 0],
        ['rim-turn', 0],
        ['rim-opening', 180],
      ] as const)
        expect(intervalOf(facts.get(id) ?? unknown(id))).toEqual([value, value]);
    },
  );

  it('nothing stated is not recorded', () => {
    const facts = deriveFacts(factMap(...NOT_STATED), 'planned', shipped.knowledge);
    for (const [derived] of GATES)
      expect(facts.get(derived)?.state).toMatchObject({ status: 'unknown', reason: 'not-recorded' });
  });

  it('a height of a lip on a head that is not known asks for the head', () => {
    const height = number('liner-elevation-height', 4, { unit: 'mm' });
    const facts = deriveFacts(
      factMap(...NOT_STATED, height, flag('skirted-head', false)),
      'planned',
      shipped.knowledge,
    );
    expect(facts.get('rim-elevation')?.state).toMatchObject({ needs: ['effective-head-diameter'] });
    expect(intervalOf(facts.get('rim-skirt') ?? unknown('x'))).toEqual([0, 0]);
  });
});

// Truth: clinical decisions §5: a posteroinferior lip leaves the contact in flexion and internal rotation unchanged; closed form: whatever is
// added to neck or rim can only be met sooner.
describe('recording a skirt or a posterior lip', () => {
  const FRONT = shipped.parameters.get('motion-set-four-pose-v1')?.value as readonly {
    readonly name: string;
    readonly flexion: number;
  }[];

  function frontMargin(values: Values): number {
    const facts = factsOf(values);
    const file = shipped.computations.get('impingement-margin');
    if (!file) throw new Error('no margin');
    const set = {
      ...shipped.parameters.get('motion-set-four-pose-v1'),
      id: 'front',
      value: FRONT.filter(({ flexion }) => flexion > 0),
    };
    const parameters = new Map([...shipped.parameters, ['motion-set-four-pose-v1', set as never] as const]);
    const found = computeAll({ rulebook: { ...shipped, parameters }, table: COMPUTATIONS, facts }).get(
      'impingement-margin',
    );
    return found?.shown ?? NaN;
  }

  it('never improves the margin in flexion and internal rotation, whatever the plan', () => {
    const plans = fc.record({
      'cup-inclination': fc.integer({ min: 30, max: 60 }),
      'cup-anteversion': fc.integer({ min: -5, max: 35 }),
      'stem-anteversion': fc.integer({ min: -10, max: 35 }),
      'head-diameter': fc.constantFrom(28, 32, 36, 40),
      'neck-diameter': fc.integer({ min: 9, max: 14 }),
    });
    const additions = fc.oneof(
      fc
        .integer({ min: 10, max: 20 })
        .map((diameter): Values => ({ 'skirted-head': true, 'skirt-diameter': diameter })),
      fc
        .record({
          angle: fc.integer({ min: 5, max: 20 }),
          arc: fc.integer({ min: 30, max: 180 }),
          at: fc.integer({ min: 30, max: 150 }),
        })
        .map(({ angle, arc, at }): Values => ({
          'liner-type': 'elevated-rim',
          'liner-elevation-angle': angle,
          'liner-elevation-arc': arc,
          'liner-elevation-position': at,
        })),
    );
    fc.assert(
      fc.property(plans, additions, (plan, more) => {
        const before = frontMargin(plan);
        expect(before).not.toBeNaN();
        expect(frontMargin({ ...plan, ...more })).toBeLessThanOrEqual(before + 1e-6);
      }),
      { numRuns: 60, seed: 5 },
    );
  });
});

describe('wear of the liner', () => {
  const PLACED = { 'cup-inclination': 40, 'head-diameter': 36 };
  const says = 'liner unworn, wear not measured';

  it('that nobody measured in a liner in place is taken for none, aloud; a planned liner is new', () => {
    const placed = computed('jump-distance', PLACED, 'in-place');
    expect(placed.shown?.toFixed(2)).toBe('15.21');
    expect(placed.assumptions).toContain(says);
    expect(computed('jump-distance', PLACED).assumptions).not.toContain(says);
  });

  it('measured at 0, or read as none on the film, is no assumption; more leaves no distance', () => {
    for (const more of [{ 'head-penetration': 0 }, { 'wear-pattern': 'none' }] satisfies readonly Values[])
      expect(computed('jump-distance', { ...PLACED, ...more }, 'in-place').assumptions).not.toContain(says);
    for (const more of [
      { 'head-penetration': 0.4 },
      { 'wear-pattern': 'eccentric' },
      { 'wear-pattern': 'liner-fracture' },
    ] satisfies readonly Values[]) {
      const worn = computed('jump-distance', { ...PLACED, ...more }, 'in-place');
      expect(worn.shown).toBeUndefined();
      expect(worn.fact.state).toMatchObject({ status: 'unknown', needs: ['head-penetration'] });
    }
  });

  it('that was measured twice and disagrees leaves no distance', () => {
    const facts = factMap(unknown('head-penetration', 'conflicting'), unknown('wear-pattern'));
    const { state } =
      deriveFacts(facts, 'in-place', shipped.knowledge).get('liner-penetration') ?? unknown('x');
    expect(state).toMatchObject({ status: 'unknown', reason: 'conflicting', needs: ['head-penetration'] });
  });

  it('of a liner that stays in place counts, of one that is exchanged does not', () => {
    const facts = factMap(number('head-penetration', 1, { unit: 'mm' }), unknown('wear-pattern'));
    const stays = deriveFacts(
      new Map([...facts, ['component-retained', code('component-retained', 'liner')]]),
      'planned',
      shipped.knowledge,
    );
    expect(intervalOf(stays.get('liner-penetration') ?? unknown('x'))).toEqual([1, 1]);
    const exchanged = deriveFacts(facts, 'planned', shipped.knowledge);
    expect(intervalOf(exchanged.get('liner-penetration') ?? unknown('x'))).toEqual([0, 0]);
  });
});

describe('the cup in the sagittal plane', () => {
  const angles = { 'cup-inclination': 40, 'cup-anteversion': 20 };

  it('opens forward by atan(tan RA / cos RI), and by a degree more for each degree the pelvis rolls back', () => {
    // Truth: published, ante-inclination-40-20: 25.41; ours: the pelvis turns the cup with it.
    const at = (tilt: number): number => {
      const facts = new Map(factsOf(angles));
      facts.set('app-tilt-standing', number('app-tilt-standing', tilt, { error: 0 }));
      facts.set('app-tilt-supine', number('app-tilt-supine', 0, { error: 0 }));
      facts.set('film-tilt', number('film-tilt', 0, { error: 0 }));
      facts.set('pelvic-femoral-angle-standing', number('pelvic-femoral-angle-standing', 180, { error: 0 }));
      const all = computeAll({ rulebook: shipped, table: COMPUTATIONS, facts });
      const ante = all.get('cup-ante-inclination')?.shown ?? NaN;
      expect(all.get('combined-sagittal-index')?.shown).toBeCloseTo(ante + 180, 5);
      return ante;
    };
    expect(at(0).toFixed(2)).toBe('25.41');
    expect(at(-10)).toBeCloseTo(at(0) + 10, 5);
  });
});

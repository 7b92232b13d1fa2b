import { spanOf } from '../base/interval.js';
import { roundForUnit } from '../base/rounding.js';
import { millimetres } from '../base/units.js';
import { elevationFromHeight } from '../biomechanics/range/liner.js';
import { exactNumber, quantityOf } from '../facts/fact.js';
import type { Fact } from '../facts/fact.js';
import { codesOf, needsOf, noneOf, untold, wasStatedUnusably } from './stated.js';

type Facts = ReadonlyMap<string, Fact>;

/**
 * The rim of the liner as far as the record states it: cover that an elevation adds, how far the face is turned, how wide
 * it opens, and the angle of a chamfer, for which there is no measure. A kind of liner that has one of these, without its size, leaves it unknown; another kind has none of it;
 * and where nothing was stated the fact is not recorded.
 */
export function rimFacts(facts: Facts): readonly Fact[] {
  return [
    sizeOf('rim-elevation', { kind: 'elevated-rim', size: elevation(facts) }, facts),
    sizeOf('rim-turn', { kind: 'face-changing', size: facts.get('liner-face-angle') }, facts),
    sizeOf(
      'rim-opening',
      { kind: 'constrained', size: facts.get('liner-opening-angle'), without: 180 },
      facts,
    ),
    untold({ id: 'rim-chamfer-angle', unit: 'deg' }, 'not-recorded', ['rim-chamfer-angle']),
  ];
}

interface Feature {
  /** The liner type that has it. */
  readonly kind: string;
  readonly size: Fact | undefined;
  /** What a liner without it measures. */
  readonly without?: number;
}

function sizeOf(id: string, { kind, size, without = 0 }: Feature, facts: Facts): Fact {
  const type = facts.get('liner-type');
  const measure = size?.id ?? id;
  const known = quantityOf(size);
  const has = codesOf(type).includes(kind);
  if (size && known) {
    const isNone = known.low === without && known.high === without;
    const denied = isNone ? has : codesOf(type).includes('neutral');
    return denied ? untold({ id, unit: 'deg' }, 'conflicting', ['liner-type', measure]) : { ...size, id };
  }
  if (size && wasStatedUnusably(size)) return untold({ id, unit: 'deg' }, 'refused', needsOf(size));
  if (has) return untold({ id, unit: 'deg' }, 'input-missing', [measure]);
  if (type && wasStatedUnusably(type)) return untold({ id, unit: 'deg' }, 'refused', ['liner-type']);
  // A liner of which the kind was stated has no other feature than that kind has.
  return codesOf(type).length > 0 && type
    ? noneOf({ id, unit: 'deg' }, type, without)
    : untold({ id, unit: 'deg' }, 'not-recorded', [measure]);
}

const HEIGHT = { id: 'liner-elevation-height', unit: 'deg' };

/** Cover added by a lip: as stated, or from its height on the head. */
function elevation(facts: Facts): Fact | undefined {
  const [angle, height] = [facts.get('liner-elevation-angle'), facts.get('liner-elevation-height')];
  if (!angle || !height || quantityOf(angle) || wasStatedUnusably(angle)) return angle;
  const known = quantityOf(height);
  if (!known) return wasStatedUnusably(height) ? height : angle;
  const head = facts.get('effective-head-diameter');
  const bore = exactNumber(head);
  if (bore === undefined) {
    return untold(HEIGHT, 'input-missing', head ? needsOf(head) : ['head-diameter']);
  }
  if (known.low < 0 || known.high >= bore / 2) return untold(HEIGHT, 'refused', [height.id]);
  const angles = [known.low, known.high].map((end) =>
    roundForUnit(elevationFromHeight(millimetres(end), millimetres(bore)), 'deg'),
  );
  return {
    ...height,
    unit: 'deg',
    state: { status: 'present', value: { kind: 'quantity', interval: spanOf(angles) } },
  };
}

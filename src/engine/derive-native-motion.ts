import type { Interval } from '../base/interval.js';
import { roundEnd } from '../base/rounding.js';
import type { Fact } from '../facts/fact.js';
import { quantityOf, unknownFact } from '../facts/fact.js';
import { joinedQuantity, missingQuantity } from './derive-spine.js';

const PARTS = ['native-flexion', 'native-adduction', 'native-internal-rotation'] as const;

/** Flexion, adduction and internal rotation before surgery, added: how supple a hip is. Ranges add by their ends. */
export function nativeMotionSum(facts: ReadonlyMap<string, Fact>): Fact {
  const id = 'native-motion-sum';
  const parts = PARTS.map((part) => facts.get(part) ?? unknownFact(part, 'not-recorded', { unit: 'deg' }));
  const known = parts.flatMap((part) => quantityOf(part) ?? []);
  if (known.length < parts.length) return missingQuantity(id, parts, quantityOf);
  return joinedQuantity(id, known.reduce(added, { low: 0, high: 0 }), parts, []);
}

function added(a: Interval, b: Interval): Interval {
  return { low: roundEnd(a.low + b.low, 'deg'), high: roundEnd(a.high + b.high, 'deg') };
}

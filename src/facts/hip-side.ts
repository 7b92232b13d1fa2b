import { codesIn } from '../fhir/codings.js';
import { objectsIn } from '../fhir/json.js';
import type { Side } from './definitions.js';
import type { FactKnowledge } from './knowledge.js';
import type { SideReading } from './laterality.js';

/** The measure code by which a carrier without a body site states its side. */
export const HIP_SIDE = 'hip-side';

/**
 * The side that a request's parameters (coded under `code`) or an implant's properties (under `type`) state: none is
 * unknown, two that differ contradict each other.
 */
export function statedHipSide(list: unknown, member: 'code' | 'type', knowledge: FactKnowledge): SideReading {
  const { measure, measureValue } = knowledge.systems;
  const stated = objectsIn(list)
    .filter((item) => codesIn(item[member], measure, knowledge.aliases).includes(HIP_SIDE))
    .flatMap((item) => [
      ...codesIn(item['valueCodeableConcept'], measureValue, knowledge.aliases),
      ...objectsIn(item['valueCode']).flatMap((concept) => codesIn(concept, measureValue, knowledge.aliases)),
    ]);
  return sideFromCodes(stated);
}

/** The side that codes of our own value system name. */
export function sideFromCodes(codes: readonly string[]): SideReading {
  const sides = [...new Set(codes)].filter((code): code is Side => code === 'left' || code === 'right');
  const [only, second] = sides;
  if (only === undefined) return { kind: 'unknown' };
  return second === undefined
    ? { kind: 'sides', sides: [only] }
    : { kind: 'conflict', statements: ['left', 'right'] };
}

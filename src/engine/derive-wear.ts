import type { ConstructKind } from '../facts/definitions.js';
import type { Fact } from '../facts/fact.js';
import { NO_PROVENANCE, quantityOf, unknownFact } from '../facts/fact.js';
import { codesOf, noneOf, untold, wasStatedUnusably } from './stated.js';

const PENETRATION = { id: 'liner-penetration', unit: 'mm' };

const WORN: readonly string[] = ['concentric', 'eccentric', 'liner-fracture'];

/**
 * How far the head has sunk into the liner: nothing in one that is new, as measured in one that is in place or stays. A
 * film read as worn, without a measurement, leaves it unknown; where nothing was said of wear it is not recorded.
 */
export function linerPenetration(facts: ReadonlyMap<string, Fact>, construct: ConstructKind): Fact {
  const measured =
    facts.get('head-penetration') ?? unknownFact('head-penetration', 'not-recorded', { unit: 'mm' });
  const pattern = facts.get('wear-pattern');
  const codes = codesOf(pattern);
  if (construct === 'planned' && !codesOf(facts.get('component-retained')).includes('liner')) {
    return noneOf(PENETRATION, { provenance: NO_PROVENANCE, remarks: [] });
  }
  if (quantityOf(measured)) return { ...measured, id: PENETRATION.id, narrowedBy: [measured.id] };
  if (wasStatedUnusably(measured)) return { ...measured, id: PENETRATION.id };
  if (codes.some((code) => WORN.includes(code)) || (pattern && wasStatedUnusably(pattern))) {
    return untold(PENETRATION, 'input-missing', [measured.id]);
  }
  if (pattern && codes.includes('none')) return noneOf(PENETRATION, pattern);
  return { ...measured, id: PENETRATION.id };
}

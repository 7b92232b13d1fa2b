import { SPINE_TYPES } from '../biomechanics/bone/generic-bone-shape.js';
import type { Fact } from '../facts/fact.js';
import { unknownFact } from '../facts/fact.js';
import { codesOf, noneOf } from './stated.js';

const TYPE = { id: 'aiis-type', unit: '1' };

/** The type of the anterior inferior iliac spine as a number; of several read, none can be taken. */
export function aiisType(facts: ReadonlyMap<string, Fact>): Fact {
  const read = facts.get('aiis-prominence') ?? unknownFact('aiis-prominence', 'not-recorded');
  const [code, ...others] = codesOf(read);
  const index = SPINE_TYPES.findIndex((type) => type === code);
  if (index >= 0 && others.length === 0) return noneOf(TYPE, read, index + 1);
  if (read.state.status === 'unknown') return { ...read, ...TYPE };
  return { ...unknownFact(read.id, 'conflicting'), ...TYPE };
}

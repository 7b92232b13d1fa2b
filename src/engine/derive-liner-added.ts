import type { Fact } from '../facts/fact.js';
import { unknownFact } from '../facts/fact.js';
import { noneOf } from './stated.js';

const ADDED = { id: 'liner-lateralization-added', unit: 'mm' };

/** How far a liner that comes new holds the center out; one that stays in place changes nothing. */
export function addedLateralization(facts: ReadonlyMap<string, Fact>): Fact {
  const stated = facts.get('liner-lateralization') ?? unknownFact('liner-lateralization', 'not-recorded');
  return stated.retained ? noneOf(ADDED, stated) : { ...stated, ...ADDED };
}

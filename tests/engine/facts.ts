import type { Fact, FactState, UnknownReason } from '../../src/facts/fact.js';
import type { Condition, Limit, Operator } from '../../src/rulebook/types.js';

/** Facts and conditions made by hand, as short as they can be said. */

function fact(id: string, state: FactState, more: Partial<Fact> = {}): Fact {
  return { id, state, provenance: { from: [] }, remarks: [], ...more };
}

/** A quantity: one number, or the ends of an interval. */
export function number(
  id: string,
  value: number | readonly [number, number],
  more: Partial<Fact> = {},
): Fact {
  const [low, high] = typeof value === 'number' ? [value, value] : value;
  return fact(
    id,
    { status: 'present', value: { kind: 'quantity', interval: { low, high } } },
    { unit: 'deg', ...more },
  );
}

export function code(id: string, ...codes: readonly string[]): Fact {
  return fact(id, { status: 'present', value: { kind: 'code', codes } });
}

export function flag(id: string, value: boolean): Fact {
  return fact(id, { status: 'present', value: { kind: 'flag', flag: value } });
}

export function recorded(id: string, ...texts: readonly string[]): Fact {
  return fact(id, { status: 'present', value: { kind: 'recorded', texts } });
}

export function absent(id: string): Fact {
  return fact(id, { status: 'absent' });
}

export function unknown(
  id: string,
  reason: UnknownReason = 'not-recorded',
  needs: readonly string[] = [id],
): Fact {
  return fact(id, { status: 'unknown', reason, needs });
}

export function factMap(...facts: readonly Fact[]): ReadonlyMap<string, Fact> {
  return new Map(facts.map((one) => [one.id, one]));
}

export function leaf(id: string, operator: Operator, value: Limit['value'], parameter?: string): Condition {
  return {
    kind: 'leaf',
    fact: id,
    operator,
    limit: { value, ...(parameter !== undefined && { parameter, unit: 'deg' }) },
  };
}

export const all = (...children: readonly Condition[]): Condition => ({ kind: 'all', children });
export const any = (...children: readonly Condition[]): Condition => ({ kind: 'any', children });
export const not = (child: Condition): Condition => ({ kind: 'not', child });
/** A diagnosis on record. */
export const has = (id: string): Condition => leaf(id, 'recorded', true);

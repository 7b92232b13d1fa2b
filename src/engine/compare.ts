import type { Interval } from '../base/interval.js';
import { assertNever } from '../base/never.js';
import type { Fact, FactValue, UnknownReason } from '../facts/fact.js';
import type { Limit, Operator } from '../rulebook/types.js';
import type { Found } from './explanation.js';
import type { Truth } from './truth.js';

export interface Comparison {
  readonly truth: Truth;
  readonly found?: Found;
  readonly error?: number;
  readonly reason?: UnknownReason;
  readonly needs?: readonly string[];
}

/**
 * Compares a fact with a limit in three values. An interval is known to lie above or below a limit only when all of
 * it does. `clearly-` operators allow for the fact's measuring band; without a known band they cannot tell.
 * Throws TypeError when operator and fact do not fit, which the rulebook check rules out.
 */
export function compareFact(fact: Fact, operator: Operator, limit: Limit['value']): Comparison {
  const { state } = fact;
  if (state.status === 'unknown') return { truth: 'unknown', reason: state.reason, needs: state.needs };
  if (operator === 'recorded') {
    if (limit !== true) throw new TypeError(`"recorded" compares with true, got ${String(limit)}`);
    return {
      truth: state.status === 'present' ? 'true' : 'false',
      ...(state.status === 'present' && foundIn(state.value)),
    };
  }
  if (state.status === 'absent') {
    // Looked for and not there, so it is none of the codes asked for.
    if (operator === 'equal' || operator === 'one-of') return { truth: 'false' };
    throw new TypeError(`${fact.id} has no value to compare by "${operator}"`);
  }
  return compareValue(fact, state.value, operator, limit);
}

function compareValue(fact: Fact, value: FactValue, operator: Operator, limit: Limit['value']): Comparison {
  switch (operator) {
    case 'equal':
    case 'one-of':
      return { truth: matches(value, limit) ? 'true' : 'false', ...foundIn(value) };
    case 'above':
    case 'below':
    case 'at-least':
    case 'at-most':
      return compareQuantity(fact, value, operator, limit, 0);
    case 'clearly-above':
    case 'clearly-below':
      return compareQuantity(
        fact,
        value,
        operator === 'clearly-above' ? 'above' : 'below',
        limit,
        fact.error,
      );
    case 'recorded':
      throw new TypeError('handled before');
    default:
      return assertNever(operator);
  }
}

function matches(value: FactValue, limit: Limit['value']): boolean {
  if (value.kind === 'flag') return value.flag === limit;
  if (value.kind !== 'code') throw new TypeError(`a ${value.kind} cannot be compared with a code`);
  const wanted: readonly unknown[] = Array.isArray(limit) ? limit : [limit];
  return value.codes.some((code) => wanted.includes(code));
}

type Direction = 'above' | 'below' | 'at-least' | 'at-most';

function compareQuantity(
  fact: Fact,
  value: FactValue,
  direction: Direction,
  limit: Limit['value'],
  error: number | undefined,
): Comparison {
  if (value.kind !== 'quantity' || typeof limit !== 'number' || !Number.isFinite(limit)) {
    throw new TypeError(`${fact.id} cannot be compared with ${String(limit)}`);
  }
  const found = foundIn(value);
  if (error === undefined)
    return { truth: 'unknown', ...found, reason: 'spans-limit', needs: needsOfSpan(fact) };
  const truth = side(withBand(value.interval, direction, error), direction, limit);
  const band = error > 0 ? { error } : {};
  if (truth !== 'unknown') return { truth, ...found, ...band };
  return { truth, ...found, ...band, reason: 'spans-limit', needs: needsOfSpan(fact) };
}

/** What would narrow an interval: the inputs it was computed over, or the fact itself. */
function needsOfSpan(fact: Fact): readonly string[] {
  return fact.narrowedBy && fact.narrowedBy.length > 0 ? fact.narrowedBy : [fact.id];
}

/** Moves the interval toward the limit by the band: beyond it only counts what lies beyond it by more than the error. */
function withBand(interval: Interval, direction: Direction, error: number): Interval {
  const shift = direction === 'above' || direction === 'at-least' ? -error : error;
  return { low: interval.low + shift, high: interval.high + shift };
}

function side({ low, high }: Interval, direction: Direction, limit: number): Truth {
  switch (direction) {
    case 'above':
      return low > limit ? 'true' : high <= limit ? 'false' : 'unknown';
    case 'at-least':
      return low >= limit ? 'true' : high < limit ? 'false' : 'unknown';
    case 'below':
      return high < limit ? 'true' : low >= limit ? 'false' : 'unknown';
    case 'at-most':
      return high <= limit ? 'true' : low > limit ? 'false' : 'unknown';
  }
}

/** The value for the explanation; an open end of an interval is left out. */
export function foundIn(value: FactValue): { readonly found: Found } {
  switch (value.kind) {
    case 'quantity': {
      const { low, high } = value.interval;
      if (low === high) return { found: low };
      return { found: { ...(Number.isFinite(low) && { low }), ...(Number.isFinite(high) && { high }) } };
    }
    case 'code':
      return { found: value.codes };
    case 'flag':
      return { found: value.flag };
    case 'recorded':
      return { found: value.texts };
    default:
      return assertNever(value);
  }
}

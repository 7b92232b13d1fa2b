import { assertNever } from '../base/never.js';
import type { Fact, FactValue } from '../facts/fact.js';
import type { Limit, Operator } from '../rulebook/types.js';
import { BROKEN, FALSE, TRUE, UNKNOWN } from './compiled-truth.js';
import type { TruthBit } from './compiled-truth.js';

/** How a fact compares with a limit known beforehand; a fact that nobody made breaks the comparison. */
export type CompiledComparison = (fact: Fact | undefined) => TruthBit;

/** How a present value, with its measuring band, compares with a limit known beforehand. */
type ValueTest = (value: FactValue, band: number | undefined) => TruthBit;

/**
 * The truth that `compareFact` finds, and BROKEN where it throws. Operator and limit are looked at once, here, so that
 * comparing makes nothing and asks only about the fact.
 */
export function compileComparison(operator: Operator, limit: Limit['value']): CompiledComparison {
  const codes = operator === 'equal' || operator === 'one-of';
  const ifAbsent = codes || (operator === 'recorded' && limit === true) ? FALSE : BROKEN;
  const test = valueTest(operator, limit);
  return (fact) => {
    if (!fact) return BROKEN;
    try {
      const { state } = fact;
      if (state.status === 'unknown') return UNKNOWN;
      return state.status === 'absent' ? ifAbsent : test(state.value, fact.error);
    } catch {
      // A fact of no known form breaks the rules that ask for it; the throw is met again, and told, in their trees.
      return BROKEN;
    }
  };
}

const alwaysBroken: ValueTest = () => BROKEN;

function valueTest(operator: Operator, limit: Limit['value']): ValueTest {
  switch (operator) {
    case 'recorded':
      return limit === true ? () => TRUE : alwaysBroken;
    case 'equal':
    case 'one-of':
      return codeTest(limit);
    default:
      return typeof limit === 'number' && Number.isFinite(limit) ? numberTest(operator, limit) : alwaysBroken;
  }
}

function codeTest(limit: Limit['value']): ValueTest {
  const wanted = new Set<unknown>(Array.isArray(limit) ? limit : [limit]);
  return (value) => {
    if (value.kind === 'flag') return value.flag === limit ? TRUE : FALSE;
    if (value.kind !== 'code') return BROKEN;
    return value.codes.some((code) => wanted.has(code)) ? TRUE : FALSE;
  };
}

type NumberOperator = Exclude<Operator, 'recorded' | 'equal' | 'one-of'>;

function numberTest(operator: NumberOperator, limit: number): ValueTest {
  switch (operator) {
    case 'clearly-above':
      return bandTest(sideTest('above', limit), -1);
    case 'clearly-below':
      return bandTest(sideTest('below', limit), 1);
    default: {
      const side = sideTest(operator, limit);
      return (value) => (value.kind === 'quantity' ? side(value.interval.low, value.interval.high) : BROKEN);
    }
  }
}

/** Moves the interval toward the limit by the measuring band before looking; without a known band it cannot tell. */
function bandTest(side: SideTest, toward: 1 | -1): ValueTest {
  return (value, band) => {
    if (value.kind !== 'quantity') return BROKEN;
    if (band === undefined) return UNKNOWN;
    const shift = toward * band;
    return side(value.interval.low + shift, value.interval.high + shift);
  };
}

/** On which side of a limit an interval lies; known only when all of it lies there. */
type SideTest = (low: number, high: number) => TruthBit;

function sideTest(side: 'above' | 'at-least' | 'below' | 'at-most', limit: number): SideTest {
  switch (side) {
    case 'above':
      return (low, high) => (low > limit ? TRUE : high <= limit ? FALSE : UNKNOWN);
    case 'at-least':
      return (low, high) => (low >= limit ? TRUE : high < limit ? FALSE : UNKNOWN);
    case 'below':
      return (low, high) => (high < limit ? TRUE : low >= limit ? FALSE : UNKNOWN);
    case 'at-most':
      return (low, high) => (high <= limit ? TRUE : low > limit ? FALSE : UNKNOWN);
    default:
      return assertNever(side);
  }
}

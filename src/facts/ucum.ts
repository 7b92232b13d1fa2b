import { UcumLhcUtils } from '@lhncbc/ucum-lhc';

const ucum = UcumLhcUtils.getInstance();
const known = new Map<string, number | undefined>();

/** Units come from outside: what is remembered must not grow with them without end. */
const MOST_REMEMBERED = 10_000;
const LONGEST_UNIT = 40;

/** A UCUM code is printable ASCII without blanks; the library prints anything else, and a unit may be a patient's text. */
const PRINTABLE = /^[!-~]+$/;

/**
 * The factor that turns a quantity in one UCUM unit into another, or undefined when they measure different things or
 * the unit is none. Only ratio scales are asked for here (angles, lengths, rates), so a factor says everything.
 */
export function ucumFactor(from: string, to: string): number | undefined {
  return from === to ? 1 : remembered(from, to);
}

/** Whether a text is a unit of UCUM at all. */
export function isUcumUnit(text: string): boolean {
  return remembered(text, text) !== undefined;
}

function remembered(from: string, to: string): number | undefined {
  if (from.length > LONGEST_UNIT || !PRINTABLE.test(from)) return undefined;
  const key = `${from} ${to}`;
  if (known.has(key)) return known.get(key);
  const factor = factorOf(from, to);
  if (known.size < MOST_REMEMBERED) known.set(key, factor);
  return factor;
}

function factorOf(from: string, to: string): number | undefined {
  try {
    const [one, two] = [ucum.convertUnitTo(from, 1, to), ucum.convertUnitTo(from, 2, to)];
    if (one.status !== 'succeeded' || one.toVal === null || two.toVal === null) return undefined;
    // A scale that is not proportional (slope in per cent) has no factor.
    return Math.abs(two.toVal - 2 * one.toVal) <= 1e-9 * Math.abs(two.toVal) ? one.toVal : undefined;
  } catch {
    // The library looks units up in plain objects and trips over names such as "constructor": such a unit is none.
    return undefined;
  }
}

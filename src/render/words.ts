import { assertNever } from '../base/never.js';
import type { Outcome } from '../engine/evaluate.js';
import type { Found } from '../engine/explanation.js';
import type { Truth } from '../engine/truth.js';
import type { ConstructKind, Hip } from '../facts/definitions.js';
import type { UnknownReason } from '../facts/fact.js';
import type { Entry, Limit, Operator, Rulebook } from '../rulebook/types.js';

/** Words of the engine's values for a reader who checks a result; numbers in full, as the engine saw them. */

export const HOOK_TITLES: Readonly<Record<Entry, string>> = {
  'appointment-book': 'Booking',
  'order-select': 'Order being chosen',
  'order-sign': 'Order being signed',
  'patient-view': 'Chart',
};

export const OUTCOME_TITLES: Readonly<Record<Outcome, string>> = {
  fires: 'fires',
  'cannot-tell': 'cannot tell',
  'does-not-fire': 'does not fire',
  'not-applicable': 'not applicable',
};

/** In the order in which a reader wants them. */
export const OUTCOMES: readonly Outcome[] = ['fires', 'cannot-tell', 'does-not-fire', 'not-applicable'];

export const TRUTH_TITLES: Readonly<Record<Truth, string>> = {
  true: 'yes',
  false: 'no',
  unknown: 'not known',
};

export function hipTitle(hip: Hip, construct: ConstructKind): string {
  const side = hip === 'unknown' ? 'Hip, side not stated' : hip === 'left' ? 'Left hip' : 'Right hip';
  return `${side}, ${construct === 'planned' ? 'planned' : 'in place'}`;
}

/** A number with its unit, as many decimals as it has. */
export function quantityText(value: number, unit: string | undefined): string {
  const number = String(Number(value.toPrecision(8)));
  if (unit === undefined || unit === '1' || unit.startsWith('{')) return number;
  return unit === 'deg' ? `${number}°` : `${number} ${unit}`;
}

export function operatorText(operator: Operator): string {
  switch (operator) {
    case 'above':
    case 'below':
      return operator;
    case 'at-least':
      return 'at least';
    case 'at-most':
      return 'at most';
    case 'clearly-above':
      return 'clearly above';
    case 'clearly-below':
      return 'clearly below';
    case 'equal':
    case 'one-of':
      return 'is';
    case 'recorded':
      return 'recorded';
    default:
      return assertNever(operator);
  }
}

export function limitText(limit: Limit['value'], unit: string | undefined, rulebook: Rulebook): string {
  if (typeof limit === 'number') return quantityText(limit, unit);
  if (typeof limit === 'boolean') return limit ? 'yes' : 'no';
  const codes = typeof limit === 'string' ? [limit] : limit;
  return codes.map((code) => termText(code, rulebook)).join(' or ');
}

export function foundText(found: Found, unit: string | undefined, rulebook: Rulebook): string {
  if (typeof found === 'number') return quantityText(found, unit);
  if (typeof found === 'boolean') return found ? 'yes' : 'no';
  if (isList(found)) return found.map((code) => termText(code, rulebook)).join('; ');
  const { low, high } = found;
  if (low !== undefined && high !== undefined)
    return `between ${quantityText(low, unit)} and ${quantityText(high, unit)}`;
  if (low !== undefined) return `over ${quantityText(low, unit)}`;
  return high === undefined ? 'anything plausible' : `under ${quantityText(high, unit)}`;
}

function isList(found: Found): found is readonly string[] {
  return Array.isArray(found);
}

function termText(code: string, { about }: Rulebook): string {
  return about.terms[code] ?? code.replaceAll('-', ' ');
}

export function reasonText(reason: UnknownReason): string {
  switch (reason) {
    case 'not-recorded':
      return 'not recorded';
    case 'set-not-read':
      return 'where it would stand was not wholly read';
    case 'refused':
      return 'what is recorded was refused as impossible or unusable';
    case 'stale':
      return 'what is recorded is too old to tell of today';
    case 'conflicting':
      return 'recorded values disagree';
    case 'definition-unknown':
      return 'the definition of the angle is not stated';
    case 'sign-unconfirmed':
      return 'its sign is not confirmed';
    case 'side-unknown':
      return 'its side is not stated';
    case 'code-unclear':
      return 'the recorded code is too unclear to mean it';
    case 'input-missing':
      return 'something it is worked out from is missing';
    case 'spans-limit':
      return 'what it may be lies on both sides of the limit';
    case 'could-not-evaluate':
      return 'could not be worked out';
    default:
      return assertNever(reason);
  }
}

/** What a fact or computation is called; a variant of a computation says what stands in for what. */
export function titleOf(id: string, rulebook: Rulebook): string {
  const own = rulebook.titles.get(id) ?? rulebook.computations.get(id)?.title;
  if (own !== undefined) return own;
  const [, computation, standIns] = /^([^[]+)\[(.+)\]$/.exec(id) ?? [];
  if (computation === undefined || standIns === undefined) return id;
  const said = standIns.split(',').map((pair) => {
    const [input = '', fact = ''] = pair.split('=');
    return `${titleOf(fact, rulebook)} for ${titleOf(input, rulebook)}`;
  });
  return `${titleOf(computation, rulebook)} (${said.join(', ')})`;
}

/** What a reader calls a published code of ours, such as a method. */
export function termOf(code: string, rulebook: Rulebook): string {
  return termText(code, rulebook);
}

import { formatDate } from '../base/dates.js';
import type { Interval } from '../base/interval.js';
import type { Computed } from '../engine/compute.js';
import type { ShownNumber } from '../engine/shown-numbers.js';
import type { Cause } from '../engine/evaluate.js';
import type { Explanation } from '../engine/explanation.js';
import type { Truth } from '../engine/truth.js';
import type { Fact } from '../facts/fact.js';
import { exactNumber, quantityOf } from '../facts/fact.js';
import { alternativesOf } from '../rulebook/placeholders.js';
import type { Piece } from '../rulebook/placeholders.js';
import type { Rulebook } from '../rulebook/types.js';
import { formatBeside, formatDimension, formatQuantity } from './format.js';
import { localLimitText } from './site-lines.js';

/** What the placeholders of a message may name. */
export interface MessageScope {
  readonly rulebook: Rulebook;
  /** All facts of the hip, cup angles radiographic. */
  readonly facts: ReadonlyMap<string, Fact>;
  readonly numbers: ReadonlyMap<string, ShownNumber>;
  readonly computed: ReadonlyMap<string, Computed>;
  readonly when: Explanation;
  readonly causes: readonly Cause[];
  readonly named: ReadonlyMap<string, Truth>;
}

/**
 * Fills a message; undefined when any placeholder has no value, so that no sentence ever shows a hole. Alternatives
 * stand one after another, parted by ` || `: the first that can be filled is used.
 */
export function fill(template: string, scope: MessageScope): string | undefined {
  for (const pieces of alternativesOf(template)) {
    const text = fillOne(pieces, scope);
    if (text !== undefined) return text;
  }
  return undefined;
}

function fillOne(pieces: readonly Piece[], scope: MessageScope): string | undefined {
  let filled = '';
  for (const piece of pieces) {
    const text = 'text' in piece ? piece.text : valueOf(piece.name, scope);
    if (text === undefined) return undefined;
    filled += text;
  }
  return filled;
}

/** All messages of a list that can be filled. */
export function fillAll(templates: readonly string[], scope: MessageScope): readonly string[] {
  return templates.flatMap((template) => fill(template, scope) ?? []);
}

/** The first message of a list that can be filled. */
export function fillFirst(templates: readonly string[], scope: MessageScope): string {
  for (const template of templates) {
    const text = fill(template, scope);
    if (text !== undefined) return text;
  }
  throw new Error(`no message could be filled: ${templates.at(-1) ?? ''}`);
}

function valueOf(name: string, scope: MessageScope): string | undefined {
  const [head, rest] = split(name, ':');
  if (rest !== undefined) return special(head, rest, scope);
  const number = scope.numbers.get(name);
  // What is computed has a model's precision; a matching head is a size off the shelf.
  if (number)
    return (number.computation === undefined ? formatDimension : formatQuantity)(number.value, number.unit);
  const [parameter, member] = split(name, '.');
  const found = scope.rulebook.parameters.get(parameter);
  if (found) return localLimitText(found, scope.rulebook) ?? parameterText(found.value, member, found.unit);
  const computed = scope.computed.get(name);
  if (computed) return computedText(computed, limitsOf(name, scope.when));
  return factText(scope.facts.get(name), scope);
}

/** A computed number, or between which it lies where an input is a range: a rule that fires on one must be able to say so. */
function computedText({ shown, fact, unit }: Computed, limits: readonly number[]): string | undefined {
  if (shown !== undefined) return formatBeside(shown, unit, limits);
  const known = quantityOf(fact);
  return known && intervalText(known, unit);
}

function split(name: string, at: string): readonly [string, string?] {
  const index = name.indexOf(at);
  return index < 0 ? [name] : [name.slice(0, index), name.slice(index + 1)];
}

function special(kind: string, name: string, scope: MessageScope): string | undefined {
  switch (kind) {
    case 'stated':
      return name === 'cup' ? statedCup(scope) : undefined;
    case 'date':
      return dateText(scope.facts.get(name));
    case 'retained':
      return retainedText(scope.facts.get(name), scope);
    case 'margin':
      return marginText(scope.numbers.get(name));
    case 'reach':
      return reachText(scope.numbers.get(name));
    case 'texts':
      return recordedTexts(name.split(','), scope);
    // A line that only holds where a condition is so, or is known not to be, is a line with a hole everywhere else.
    case 'if':
      return scope.named.get(name) === 'true' ? '' : undefined;
    case 'unless':
      return scope.named.get(name) === 'false' ? '' : undefined;
    case 'causes':
      return causesText(name === 'named' ? 'true' : 'unknown', scope);
    default:
      throw new Error(`unknown placeholder kind ${kind}`);
  }
}

/** That a component stays in place, with how and when it was measured; nothing for one that is planned. */
function retainedText(fact: Fact | undefined, scope: MessageScope): string | undefined {
  if (fact?.retained !== true) return undefined;
  const { terms, remarks } = scope.rulebook.about;
  const method = fact.method === undefined ? [] : [terms[fact.method] ?? fact.method];
  return [remarks.retained, ...method, ...(dateText(fact) === undefined ? [] : [dateText(fact)])].join(', ');
}

function dateText(fact: Fact | undefined): string | undefined {
  const date = fact?.provenance.date;
  return date === undefined ? undefined : formatDate(date);
}

/** What was recorded under several facts, joined: the texts of those present. */
function recordedTexts(ids: readonly string[], scope: MessageScope): string | undefined {
  const all = ids.flatMap((id) => {
    const state = scope.facts.get(id)?.state;
    return state?.status === 'present' && state.value.kind === 'recorded' ? state.value.texts : [];
  });
  const texts = [...new Set(all)];
  if (texts.length === 0) return undefined;
  const more = texts.length > 3 ? [`and ${texts.length - 3} more`] : [];
  return [...texts.slice(0, 3), ...more].join('; ');
}

function causesText(wanted: Truth, { causes }: MessageScope): string | undefined {
  const says = causes.filter(({ truth }) => truth === wanted).map((cause) => cause.says);
  return says.length === 0 ? undefined : says.join(', ');
}

/** A margin with the motion that has it; on a set of ranges asked for, a negative one is a range not reached. */
function marginText(number: ShownNumber | undefined): string | undefined {
  if (!number || number.motion === undefined) return undefined;
  const size = formatQuantity(Math.abs(number.value), number.unit);
  return number.value < 0
    ? `range asked for not reached by ${size} (${number.motion})`
    : `least margin ${size} (${number.motion})`;
}

/** A margin beside another whose motion was told: what is left of the range asked for, or how much is short. */
function reachText(number: ShownNumber | undefined): string | undefined {
  if (!number || number.motion === undefined) return undefined;
  return `${formatQuantity(Math.abs(number.value), number.unit)} ${number.value < 0 ? 'short' : 'left'}`;
}

/** A parameter or one member of it; a pair of numbers is an interval. */
function parameterText(value: unknown, member: string | undefined, unit: string): string | undefined {
  const part = member === undefined ? value : (value as Readonly<Record<string, unknown>>)[member];
  if (typeof part === 'number') return member === undefined ? formatDimension(part, unit) : String(part);
  if (Array.isArray(part) && part.every((end) => typeof end === 'number')) return part.map(String).join('–');
  return undefined;
}

function factText(fact: Fact | undefined, scope: MessageScope): string | undefined {
  if (fact?.state.status !== 'present') return undefined;
  const { value } = fact.state;
  switch (value.kind) {
    case 'quantity': {
      const number = exactNumber(fact);
      const unit = fact.unit ?? '1';
      if (number !== undefined && isCount(fact.id, scope)) return String(number);
      if (number !== undefined) return formatBeside(number, unit, limitsOf(fact.id, scope.when));
      return intervalText(value.interval, unit);
    }
    case 'code':
      return value.codes.map((code) => scope.rulebook.about.terms[code] ?? code).join(', ');
    case 'flag':
      return value.flag ? 'yes' : 'no';
    case 'recorded':
      return value.texts.join('; ');
  }
}

/** What is counted is told as a whole number. */
function isCount(id: string, { rulebook }: MessageScope): boolean {
  const definition = rulebook.factById.get(id);
  return definition !== undefined && 'valueType' in definition && definition.valueType === 'integer';
}

/** A bound is told as one: what is only known to lie over 60° is never shown as 60°. */
function intervalText({ low, high }: Interval, unit: string): string | undefined {
  const [from, to] = [Number.isFinite(low), Number.isFinite(high)];
  if (from && to) return `${formatDimension(low, unit)} to ${formatDimension(high, unit)}`;
  if (from) return `over ${formatDimension(low, unit)}`;
  return to ? `under ${formatDimension(high, unit)}` : undefined;
}

/** The limits the rule compared this fact with, also under the name it has with its sign confirmed. */
function limitsOf(fact: string, when: Explanation): readonly number[] {
  switch (when.kind) {
    case 'compare':
      return (when.fact === fact || when.fact === `${fact}-signed`) && typeof when.limit === 'number'
        ? [when.limit]
        : [];
    case 'not':
      return limitsOf(fact, when.child);
    default:
      return when.children.flatMap((child) => limitsOf(fact, child));
  }
}

/** The cup as its source states it, and in radiographic angles when that is something else. */
function statedCup(scope: MessageScope): string | undefined {
  const inclination = scope.facts.get('cup-inclination');
  const anteversion = scope.facts.get('cup-anteversion');
  const radiographic = pair(factText(inclination, scope), factText(anteversion, scope));
  if (radiographic === undefined) return undefined;
  const stated = (fact: Fact | undefined): string =>
    String(fact?.qualifiers?.['angle-definition'] ?? 'radiographic');
  const [first, second] = [stated(inclination), stated(anteversion)];
  if (first === 'radiographic' && (second === 'radiographic' || !quantityOf(anteversion)))
    return `${radiographic} radiographic`;
  const own = pair(foundText(inclination), foundText(anteversion));
  const named = first === second ? first : `${first}/${second}`;
  return `${own ?? ''} ${named} (${radiographic} radiographic)`;
}

function foundText(fact: Fact | undefined): string | undefined {
  const found = fact?.provenance.asFound;
  const number = Number(found?.value);
  if (!found || !quantityOf(fact)) return undefined;
  return found.unit === 'deg' && Number.isFinite(number)
    ? formatBeside(number, 'deg', [])
    : `${found.value} ${found.unit ?? ''}`;
}

/** `60/15`, or `60°` alone when the other angle is not known. */
function pair(inclination: string | undefined, anteversion: string | undefined): string | undefined {
  if (inclination === undefined) return anteversion === undefined ? undefined : `anteversion ${anteversion}`;
  return anteversion === undefined
    ? inclination
    : `${inclination.replace('°', '')}/${anteversion.replace('°', '')}`;
}

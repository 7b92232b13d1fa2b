import type { Interval } from '../base/interval.js';
import { exactly } from '../base/interval.js';
import { roundForUnit } from '../base/rounding.js';
import { UCUM } from '../fhir/codings.js';
import { asNumber, asObject, asText } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { ucumFactor } from './ucum.js';

/** A quantity in the unit asked for, or why it is none. */
export type QuantityReading =
  | { readonly ok: true; readonly interval: Interval; readonly asFound: { value: string; unit: string } }
  | { readonly ok: false; readonly why: 'unreadable' | 'wrong-dimension'; readonly text: string };

/** Reads a Quantity into an interval of `unit`; a comparator makes a bound, never silently a number. */
export function readQuantity(value: unknown, unit: string): QuantityReading {
  const quantity = asObject(value);
  if (!quantity) return unreadable('no quantity');
  const number = asNumber(quantity['value']);
  if (number === undefined) return unreadable(`expected a number, found ${describeValue(quantity['value'])}`);
  const factor = unitFactor(quantity, unit);
  if (!factor.ok) return factor;
  const inUnit = number * factor.factor;
  if (!Number.isFinite(inUnit))
    return unreadable(
      `expected a number that can be told in ${unit}, found ${number} ${shownUnit(factor.code)}`,
    );
  const converted = roundForUnit(inUnit, unit);
  const interval = bound(converted, quantity['comparator']);
  if (!interval)
    return unreadable(`expected a comparator that R4 knows, found ${describeValue(quantity['comparator'])}`);
  return {
    ok: true,
    interval,
    asFound: { value: foundText(quantity, number), unit: shownUnit(factor.code) },
  };
}

/** Reads a Range: low and high in the unit asked for; an open end is infinite. */
export function readRange(value: unknown, unit: string): QuantityReading {
  const range = asObject(value);
  const low = range?.['low'] === undefined ? undefined : readQuantity(range['low'], unit);
  const high = range?.['high'] === undefined ? undefined : readQuantity(range['high'], unit);
  if (!low && !high) return unreadable('a range without ends');
  if (low && !low.ok) return low;
  if (high && !high.ok) return high;
  const interval = { low: low ? low.interval.low : -Infinity, high: high ? high.interval.high : Infinity };
  if (interval.low > interval.high) return unreadable('a range whose low end lies above its high end');
  const text = `${low ? low.asFound.value : '…'} to ${high ? high.asFound.value : '…'}`;
  return { ok: true, interval, asFound: { value: text, unit: (low ?? high)?.asFound.unit ?? unit } };
}

type Factor =
  { readonly ok: true; readonly factor: number; readonly code: string } | (QuantityReading & { ok: false });

function unitFactor(quantity: JsonObject, unit: string): Factor {
  const code = asText(quantity['code'])?.trim();
  if (code === undefined || quantity['system'] !== UCUM) {
    return {
      ok: false,
      why: 'unreadable',
      text: `expected a UCUM unit that converts to ${unit}, found ${describeValue(quantity['code'])}`,
    };
  }
  const factor = ucumFactor(code, unit);
  if (factor !== undefined) return { ok: true, factor, code };
  return {
    ok: false,
    why: 'wrong-dimension',
    text: `expected a unit that converts to ${unit}, found ${shownUnit(code)}`,
  };
}

function bound(value: number, comparator: unknown): Interval | undefined {
  switch (comparator) {
    case undefined:
      return exactly(value);
    case '<':
    case '<=':
      return { low: -Infinity, high: value };
    case '>':
    case '>=':
      return { low: value, high: Infinity };
    default:
      return undefined;
  }
}

function foundText(quantity: JsonObject, number: number): string {
  const comparator = asText(quantity['comparator']);
  return comparator === undefined ? String(number) : `${comparator} ${number}`;
}

function unreadable(text: string): QuantityReading & { ok: false } {
  return { ok: false, why: 'unreadable', text };
}

/** What was found instead, for a reader: type and, when it is short and harmless, the value itself. */
export function describeValue(value: unknown): string {
  if (value === undefined) return 'nothing';
  if (typeof value === 'string') return `the text "${clip(value)}"`;
  if (typeof value === 'number' || typeof value === 'boolean') return String(value);
  return Array.isArray(value) ? 'a list' : 'an object';
}

const LONGEST_TEXT = 40;

/** Outside text on a card is cut short and freed of anything Markdown or HTML would interpret, links included. */
export function clip(text: string): string {
  const plain = text
    .replaceAll(/[^\p{L}\p{N} .,:;/%°+'()-]/gu, '·')
    .replaceAll('//', '··')
    .replaceAll(/www\./gi, 'www·');
  const characters = Array.from(plain);
  return characters.length > LONGEST_TEXT ? `${characters.slice(0, LONGEST_TEXT - 1).join('')}…` : plain;
}

/**
 * A UCUM code as a reader may see it: without annotations, which are free text, without anything but code, and with
 * nothing that Markdown would take for a link or for emphasis.
 */
export function shownUnit(code: string): string {
  return code
    .replaceAll(/\{[^}]*\}/g, '')
    .replaceAll(/[^A-Za-z0-9[\]_%/.'^-]/g, '·')
    .replaceAll(/(?<!\[[^\]]*)_/g, '·')
    .replaceAll(/www\./gi, 'www·')
    .slice(0, LONGEST_TEXT);
}

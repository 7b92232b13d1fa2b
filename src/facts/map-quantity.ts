import { UCUM } from '../fhir/codings.js';
import { asNumber, asObject, asText } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import type { FixedQualifiers } from './site-map-index.js';
import { isUcumUnit, ucumFactor } from './ucum.js';

/** A value with the unit and direction of the site's map. */
export interface MappedValue {
  /** The member that holds it, `valueQuantity` and its like. */
  readonly member: string;
  readonly value: unknown;
  readonly unitSupplied: boolean;
  readonly signTurned: boolean;
  readonly asFound: { readonly value: string; readonly unit?: string };
}

type Direction = Pick<FixedQualifiers, 'unit' | 'sign'>;

/** Supplies the unit and turns the sign of a resource's value; undefined when there is nothing to change. */
export function mapValue(holder: JsonObject, fixed: Direction): MappedValue | undefined {
  const quantity = asObject(holder['valueQuantity']);
  if (quantity) return described('valueQuantity', mapQuantity(quantity, fixed), foundIn(quantity));
  const range = asObject(holder['valueRange']);
  if (range) return mapRange(range, fixed);
  const whole = asNumber(holder['valueInteger']);
  if (whole === undefined || fixed.sign === 1) return undefined;
  const turned = { value: times(whole), unitSupplied: false, signTurned: true };
  return described('valueInteger', turned, { value: String(whole) });
}

interface Changed {
  readonly value: unknown;
  readonly unitSupplied: boolean;
  readonly signTurned: boolean;
}

function described(
  member: string,
  changed: Changed,
  asFound: MappedValue['asFound'],
): MappedValue | undefined {
  return changed.unitSupplied || changed.signTurned ? { member, ...changed, asFound } : undefined;
}

function mapQuantity(quantity: JsonObject, { unit, sign }: Direction): Changed {
  const number = asNumber(quantity['value']);
  const unitSupplied = unit !== undefined && lacksUnit(quantity, unit);
  const signTurned = sign === -1 && number !== undefined;
  const value = {
    ...quantity,
    ...(signTurned && { value: times(number) }),
    ...(signTurned && quantity['comparator'] !== undefined && { comparator: turned(quantity['comparator']) }),
    ...(unitSupplied && { system: UCUM, code: unit }),
  };
  return { value, unitSupplied, signTurned };
}

/** Turning a range around makes its low end the high one; an end that is no quantity leaves it as it is, unreadable. */
function mapRange(range: JsonObject, fixed: Direction): MappedValue | undefined {
  const { low, high, ...rest } = range;
  const turns = fixed.sign === -1 && [low, high].every((end) => end === undefined || isNumbered(end));
  const direction: Direction = turns ? fixed : { ...fixed, sign: 1 };
  const mapped = { low: mapEnd(low, direction), high: mapEnd(high, direction) };
  const [first, second] = turns ? [mapped.high, mapped.low] : [mapped.low, mapped.high];
  const value = {
    ...rest,
    ...(first.value !== undefined && { low: first.value }),
    ...(second.value !== undefined && { high: second.value }),
  };
  const { unit } = foundIn(asObject(low ?? high) ?? {});
  const asFound = { value: `${endText(low)} to ${endText(high)}`, ...(unit !== undefined && { unit }) };
  const unitSupplied = mapped.low.unitSupplied || mapped.high.unitSupplied;
  return described(
    'valueRange',
    { value, unitSupplied, signTurned: first.signTurned || second.signTurned },
    asFound,
  );
}

function isNumbered(end: unknown): boolean {
  return asNumber(asObject(end)?.['value']) !== undefined;
}

function mapEnd(end: unknown, direction: Direction): Changed {
  const quantity = asObject(end);
  return quantity ? mapQuantity(quantity, direction) : { value: end, unitSupplied: false, signTurned: false };
}

function endText(end: unknown): string {
  return foundIn(asObject(end) ?? {}).value;
}

/** Zero has no sign to turn. */
function times(number: number): number {
  return number === 0 ? 0 : -number;
}

const TURNED: ReadonlyMap<unknown, string> = new Map([
  ['<', '>'],
  ['<=', '>='],
  ['>', '<'],
  ['>=', '<='],
]);

function turned(comparator: unknown): unknown {
  return TURNED.get(comparator) ?? comparator;
}

/** No UCUM unit is stated, and what stands in its place is not another one: "cm" is never taken for the map's "mm". */
function lacksUnit(quantity: JsonObject, unit: string): boolean {
  const code = asText(quantity['code'])?.trim();
  if (quantity['system'] === UCUM && code !== undefined) return false;
  return [code, asText(quantity['unit'])?.trim()].every(
    (text) => text === undefined || !isAnotherUnit(text, unit),
  );
}

/** Words can spell a unit nobody means ("Grad" is a billion radians): two units are taken for each other only nearer by. */
const FARTHEST = 1e6;

function isAnotherUnit(text: string, unit: string): boolean {
  if (!isUcumUnit(text)) return false;
  const factor = ucumFactor(text, unit);
  return factor === undefined || (factor !== 1 && factor < FARTHEST && factor > 1 / FARTHEST);
}

function foundIn(quantity: JsonObject): MappedValue['asFound'] {
  const comparator = asText(quantity['comparator']);
  const number = asNumber(quantity['value']);
  const text = number === undefined ? '…' : String(number);
  const unit = asText(quantity['unit']) ?? asText(quantity['code']);
  return {
    value: comparator === undefined ? text : `${comparator} ${text}`,
    ...(unit !== undefined && { unit }),
  };
}

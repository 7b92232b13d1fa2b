import { codesIn } from '../fhir/codings.js';
import { asNumber, objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { exactly } from '../base/interval.js';
import type { DataFindingKind, MeasureDefinition } from './definitions.js';
import type { FactValue } from './fact.js';
import type { FactKnowledge } from './knowledge.js';
import { clip, describeValue, readQuantity, readRange } from './quantity.js';
import type { QuantityReading } from './quantity.js';

export type Qualifiers = Readonly<Record<string, string | boolean>>;

export type MeasureValue =
  | {
      readonly kind: 'value';
      readonly value: FactValue;
      readonly qualifiers: Qualifiers;
      readonly asFound: AsFound;
    }
  | { readonly kind: 'refused'; readonly finding: DataFindingKind; readonly text: string }
  | { readonly kind: 'none'; readonly why: string };

interface AsFound {
  readonly value: string;
  readonly unit?: string;
}

/** Reads an Observation's value and qualifying components in the measure's own unit or codes. */
export function readMeasureValue(
  resource: JsonObject,
  definition: MeasureDefinition,
  knowledge: FactKnowledge,
): MeasureValue {
  const members = Object.keys(resource).filter((name) => name.startsWith('value'));
  const [member, second] = members;
  if (member === undefined) return withoutValue(resource);
  if (second !== undefined) return refused('measure-unreadable', 'expected one value, found several');
  const value = readOne(resource, member, definition, knowledge);
  if (value.kind !== 'value') return value;
  const qualifiers = readQualifiers(resource, definition, knowledge);
  return qualifiers.ok
    ? { ...value, qualifiers: qualifiers.value }
    : refused('measure-unreadable', qualifiers.why);
}

function withoutValue(resource: JsonObject): MeasureValue {
  const why = resource['dataAbsentReason'] === undefined ? 'no value' : 'value stated as absent';
  return { kind: 'none', why };
}

function readOne(
  resource: JsonObject,
  member: string,
  definition: MeasureDefinition,
  knowledge: FactKnowledge,
): MeasureValue {
  const given = resource[member];
  switch (definition.valueType) {
    case 'quantity':
      return quantityValue(member, given, definition);
    case 'integer':
      return integerValue(member, given, definition);
    case 'boolean':
      return member === 'valueBoolean' && typeof given === 'boolean'
        ? found({ kind: 'flag', flag: given }, String(given))
        : refused('measure-unreadable', `expected true or false, found ${describeMember(member, given)}`);
    case 'code':
      return codeValue(member, given, definition, knowledge);
  }
}

function quantityValue(member: string, given: unknown, definition: MeasureDefinition): MeasureValue {
  const unit = definition.unit ?? '1';
  if (member !== 'valueQuantity' && member !== 'valueRange') {
    return refused(
      'measure-unreadable',
      `expected a quantity in ${unit}, found ${describeMember(member, given)}`,
    );
  }
  const reading = member === 'valueRange' ? readRange(given, unit) : readQuantity(given, unit);
  return fromQuantity(reading, definition);
}

function fromQuantity(reading: QuantityReading, definition: MeasureDefinition): MeasureValue {
  if (!reading.ok) {
    return refused(
      reading.why === 'wrong-dimension' ? 'wrong-dimension' : 'measure-unreadable',
      reading.text,
    );
  }
  return plausible(
    found({ kind: 'quantity', interval: reading.interval }, reading.asFound.value, reading.asFound.unit),
    definition,
  );
}

function integerValue(member: string, given: unknown, definition: MeasureDefinition): MeasureValue {
  const number = member === 'valueInteger' ? asNumber(given) : undefined;
  if (number === undefined || !Number.isInteger(number)) {
    return refused('measure-unreadable', `expected a whole number, found ${describeMember(member, given)}`);
  }
  return plausible(found({ kind: 'quantity', interval: exactly(number) }, String(number)), definition);
}

function codeValue(
  member: string,
  given: unknown,
  definition: MeasureDefinition,
  knowledge: FactKnowledge,
): MeasureValue {
  const codes =
    member === 'valueCodeableConcept'
      ? codesIn(given, knowledge.systems.measureValue, knowledge.aliases)
      : [];
  const known = [...new Set(codes)].filter((code) => definition.values?.includes(code));
  const [code, second] = known;
  if (code === undefined || second !== undefined) {
    const expected = `expected one of ${(definition.values ?? []).join(', ')}`;
    return refused(
      'measure-unreadable',
      `${expected}, found ${second === undefined ? describeMember(member, given) : 'two'}`,
    );
  }
  return found({ kind: 'code', codes: [code] }, code);
}

/** The value must lie wholly or partly inside the plausible limits; what lies wholly outside is refused by name. */
function plausible(value: MeasureValue, definition: MeasureDefinition): MeasureValue {
  const limits = definition.plausible;
  if (!limits || value.kind !== 'value' || value.value.kind !== 'quantity') return value;
  const { low, high } = value.value.interval;
  const exact = low === high;
  const inside = exact ? low >= limits.low && high <= limits.high : high >= limits.low && low <= limits.high;
  if (inside) return value;
  const shown = `${value.asFound.value}${value.asFound.unit === undefined ? '' : ` ${value.asFound.unit}`}`;
  const unit = definition.unit === undefined || definition.unit === '1' ? '' : ` ${definition.unit}`;
  return refusedAs('implausible', ` ${shown}, possible range ${limits.low} to ${limits.high}${unit}`);
}

type QualifierReading =
  { readonly ok: true; readonly value: Qualifiers } | { readonly ok: false; readonly why: string };

/** Components that qualify the value: angle definition, reference plane, method, sign confirmed, version reference. */
function readQualifiers(
  resource: JsonObject,
  definition: MeasureDefinition,
  knowledge: FactKnowledge,
): QualifierReading {
  const qualifiers: Record<string, string | boolean> = {};
  for (const component of objectsIn(resource['component'])) {
    for (const name of codesIn(component['code'], knowledge.systems.measure, knowledge.aliases)) {
      if (!definition.components.includes(name)) continue;
      const value = qualifierValue(component, name, knowledge);
      if (value === undefined) return { ok: false, why: `${name} stated but not readable` };
      if (qualifiers[name] !== undefined && qualifiers[name] !== value) {
        return { ok: false, why: `${name} stated twice, differently` };
      }
      qualifiers[name] = value;
    }
  }
  return { ok: true, value: qualifiers };
}

function qualifierValue(
  component: JsonObject,
  name: string,
  knowledge: FactKnowledge,
): string | boolean | undefined {
  const allowed = knowledge.qualifiers.get(name);
  const flag = component['valueBoolean'];
  if (allowed === 'boolean') return typeof flag === 'boolean' ? flag : undefined;
  const codes = codesIn(component['valueCodeableConcept'], knowledge.systems.measureValue, knowledge.aliases);
  const [code, second] = [...new Set(codes)].filter((candidate) => allowed?.includes(candidate));
  return second === undefined ? code : undefined;
}

function found(value: FactValue, text: string, unit?: string): MeasureValue {
  return {
    kind: 'value',
    value,
    qualifiers: {},
    asFound: { value: clip(text), ...(unit !== undefined && { unit }) },
  };
}

function refused(finding: DataFindingKind, text: string): MeasureValue {
  return refusedAs(finding, `: ${text}`);
}

/** The text follows the measure's name directly. */
function refusedAs(finding: DataFindingKind, text: string): MeasureValue {
  return { kind: 'refused', finding, text };
}

function describeMember(member: string, given: unknown): string {
  return typeof given === 'object' ? member : describeValue(given);
}

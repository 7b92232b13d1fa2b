import { asText, asObject, objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { codesIn, codingsOf, hasUnknownModifier } from '../fhir/codings.js';
import { nameOf, normaliseReference, referenceOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import type { MeasureDefinition, Side } from './definitions.js';
import { HIP_SIDE, statedHipSide } from './hip-side.js';
import type { Implanted } from './implanted.js';
import type { FactKnowledge } from './knowledge.js';
import { sideOf } from './laterality.js';
import type { SideReading } from './laterality.js';
import { operationOf } from './recognition.js';
import type { Note } from './readings.js';
import { restated } from './restated-observation.js';

/** R4 code system of what a procedure did to a device. */
const DEVICE_ACTION = 'http://hl7.org/fhir/device-action';

export interface DeviceSources {
  readonly devices: readonly Located[];
  readonly uses: readonly Located[];
  readonly procedures: readonly Located[];
}

export interface DeviceContext {
  readonly knowledge: FactKnowledge;
  readonly measures: ReadonlyMap<string, MeasureDefinition>;
  readonly fhirServer: string | undefined;
}

/** An implant worn, with the value sets its type belongs to. */
export interface WornImplant {
  readonly name: string;
  readonly side: SideReading;
  readonly sets: ReadonlySet<string>;
}

export interface DeviceReads {
  readonly implanted: readonly Implanted[];
  readonly worn: readonly WornImplant[];
  /** Their geometry, each property restated as a postoperative Observation. */
  readonly observations: readonly Located[];
  readonly notes: readonly Note[];
}

/** What a procedure says of a device: that it went in or came out, where and when. */
interface Handling {
  readonly action: 'implanted' | 'explanted';
  readonly side: SideReading;
  readonly date: string | undefined;
}

/**
 * The hip implants a patient wears. A device has no body site: its side is that of the procedure that implanted it,
 * else of a statement of its use, else a property of its own, else that of the device it is part of.
 */
export function implantedDevices(sources: DeviceSources, context: DeviceContext): DeviceReads {
  const handlings = handlingsByDevice(sources.procedures, context);
  const byName = new Map(sources.devices.map((located) => [nameOf(located), located]));
  const implanted: Implanted[] = [];
  const worn: WornImplant[] = [];
  const observations: Located[] = [];
  const notes: Note[] = [];
  for (const located of sources.devices) {
    if (!isHipImplant(located.resource, context)) continue;
    const from = nameOf(located);
    const done = handlings.get(from) ?? [];
    const why = notWorn(located.resource, done);
    if (why !== undefined) {
      notes.push({ from, why });
      continue;
    }
    const side = sideOfDevice(located, { ...sources, byName, handlings }, context);
    const date = done.find(({ action }) => action === 'implanted')?.date;
    implanted.push({ name: from, side, by: 'device', date });
    worn.push({ name: from, side, sets: setsOfType(located.resource, context) });
    const sides = side.kind === 'sides' ? side.sides : [];
    const geometry = restateProperties(located, { sides, date }, context);
    observations.push(...geometry.observations);
    notes.push(...geometry.notes);
  }
  return { implanted, worn, observations, notes };
}

function setsOfType({ type }: JsonObject, { knowledge }: DeviceContext): ReadonlySet<string> {
  return new Set(
    codingsOf(type, knowledge.aliases).flatMap((coding) => [...knowledge.valueSets.setsOf(coding)]),
  );
}

function isHipImplant(resource: JsonObject, { knowledge }: DeviceContext): boolean {
  if (resource['resourceType'] !== 'Device') return false;
  const match = operationOf(codingsOf(resource['type'], knowledge.aliases), knowledge.operations, knowledge);
  return match?.kind === 'implant' || ownProperties(resource, knowledge).length > 0;
}

function notWorn(resource: JsonObject, done: readonly Handling[]): string | undefined {
  if (hasUnknownModifier(resource)) return 'carries a modifier this service does not know';
  const { status } = resource;
  if (status === 'inactive' || status === 'entered-in-error') return `device ${status}`;
  if (status !== undefined && status !== 'active') return 'device of unknown status';
  return done.some(({ action }) => action === 'explanted') ? 'device taken out' : undefined;
}

function handlingsByDevice(
  procedures: readonly Located[],
  context: DeviceContext,
): ReadonlyMap<string, readonly Handling[]> {
  const byDevice = new Map<string, Handling[]>();
  for (const { resource } of procedures) {
    if (resource['resourceType'] !== 'Procedure' || resource['status'] !== 'completed') continue;
    const place = { side: sideOfResource(resource, context), date: performedOn(resource) };
    for (const focal of objectsIn(resource['focalDevice'])) {
      const reference = referenceOf(focal['manipulated']);
      const action = codesIn(focal['action'], DEVICE_ACTION, context.knowledge.aliases)[0] ?? 'implanted';
      if (reference === undefined || (action !== 'implanted' && action !== 'explanted')) continue;
      const name = normaliseReference(reference, context.fhirServer);
      const list = byDevice.get(name) ?? [];
      list.push({ action, ...place });
      byDevice.set(name, list);
    }
  }
  return byDevice;
}

function sideOfResource(resource: JsonObject, { knowledge }: DeviceContext): SideReading {
  return sideOf(resource, knowledge.laterality, knowledge.aliases);
}

/** When a procedure was done, in the forms that can be compared. */
function performedOn(resource: JsonObject): string | undefined {
  const period = asObject(resource['performedPeriod']);
  return asText(resource['performedDateTime']) ?? asText(period?.['end']) ?? asText(period?.['start']);
}

interface SideSources extends DeviceSources {
  readonly byName: ReadonlyMap<string, Located>;
  readonly handlings: ReadonlyMap<string, readonly Handling[]>;
}

function sideOfDevice(
  located: Located,
  sources: SideSources,
  context: DeviceContext,
  depth = 0,
): SideReading {
  const name = nameOf(located);
  const uses = sources.uses.filter(
    ({ resource }) =>
      resource['status'] !== 'entered-in-error' && target(resource['device'], context) === name,
  );
  const statements = [
    ...(sources.handlings.get(name) ?? []).map(({ side }) => side),
    ...uses.map(({ resource }) => sideOfResource(resource, context)),
    statedHipSide(located.resource['property'], 'type', context.knowledge),
  ].filter(tellsOneHip);
  if (statements.length > 0) return agreed(statements);
  const parent = sources.byName.get(target(located.resource['parent'], context) ?? '');
  // Two levels (liner in cup, head on stem) are what there is; more would be a ring.
  return parent && depth < 2 ? sideOfDevice(parent, sources, context, depth + 1) : { kind: 'unknown' };
}

function target(element: unknown, { fhirServer }: DeviceContext): string | undefined {
  const reference = referenceOf(element);
  return reference === undefined ? undefined : normaliseReference(reference, fhirServer);
}

/** One implant is in one hip: a procedure on both says nothing about which. */
function tellsOneHip(reading: SideReading): boolean {
  return reading.kind === 'conflict' || (reading.kind === 'sides' && reading.sides.length === 1);
}

/** Several statements of one side are one; different ones contradict each other. */
function agreed(statements: readonly SideReading[]): SideReading {
  const sides = [
    ...new Set(
      statements.flatMap((reading) => (reading.kind === 'sides' ? [reading.sides.join(' ')] : ['conflict'])),
    ),
  ];
  const [first] = statements;
  if (sides.length === 1 && first) return first;
  return { kind: 'conflict', statements: ['left', 'right'] };
}

function ownProperties(
  resource: JsonObject,
  knowledge: FactKnowledge,
): readonly { readonly measure: string; readonly property: JsonObject }[] {
  return objectsIn(resource['property']).flatMap((property) =>
    codesIn(property['type'], knowledge.systems.measure, knowledge.aliases)
      .filter((measure) => measure !== HIP_SIDE)
      .map((measure) => ({ measure, property })),
  );
}

function restateProperties(
  located: Located,
  place: { readonly sides: readonly Side[]; readonly date: string | undefined },
  context: DeviceContext,
): { readonly observations: readonly Located[]; readonly notes: readonly Note[] } {
  const from = nameOf(located);
  const notes: Note[] = [];
  const observations = ownProperties(located.resource, context.knowledge).flatMap(({ measure, property }) => {
    const definition = context.measures.get(measure);
    const value = definition && propertyValue(property, definition, context.knowledge);
    if (!definition?.carriers.includes('device') || !value) {
      notes.push({ from, why: `${measure}: not readable as a property of a device` });
      return [];
    }
    const statement = { from, carrier: located.resource, measure, stage: 'postoperative' as const, value };
    return [restated({ ...statement, ...place, qualifiers: [] }, context.knowledge)];
  });
  return { observations, notes };
}

/** R4 gives a property lists of quantities and of codes; one value is wanted. A flag is a code that says present or absent. */
function propertyValue(
  property: JsonObject,
  definition: MeasureDefinition,
  knowledge: FactKnowledge,
): JsonObject | undefined {
  const quantities = objectsIn(property['valueQuantity']);
  const codes = objectsIn(property['valueCode']);
  if (quantities.length + codes.length !== 1) return undefined;
  if (quantities[0]) return { valueQuantity: quantities[0] };
  if (definition.valueType !== 'boolean') return { valueCodeableConcept: codes[0] };
  const [flag] = codesIn(codes[0], knowledge.systems.measureValue, knowledge.aliases);
  return flag === 'present' || flag === 'absent' ? { valueBoolean: flag === 'present' } : undefined;
}

import { canonicalJson } from '../base/canonical-json.js';
import { codesIn } from '../fhir/codings.js';
import { asArray, asObject, objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import type { Side } from './definitions.js';
import { sideOf } from './laterality.js';
import { codesFrom, hipSiteCoding, inMember } from './map-concepts.js';
import { mapComponents, mapMeasureAnswer, suppliedComponents } from './map-components.js';
import { mapValue } from './map-quantity.js';
import { clip, shownUnit } from './quantity.js';
import { listOf, matchesIn, withCodings } from './site-map-index.js';
import type { MeasureEntry, SiteMaps } from './site-map-index.js';
import { inSteps, mappedCode, recoded, unchanged } from './site-translation.js';
import type { Step, Translated } from './site-translation.js';

/** Marks an Observation whose local codes contradict each other: whoever reads it must not use it. */
const CONFLICT = 'https://kotyle.example/fhir/StructureDefinition/site-map-conflict';

/**
 * Rewrites an Observation of a local measure as one of ours: measure code, group, stage, side, qualifying components,
 * unit and sign. What the resource states itself is kept. One that already carries a measure code of ours is only
 * helped with its answers and sides, so that a second translation changes nothing.
 */
export function mapObservation(resource: JsonObject, maps: SiteMaps): Translated | undefined {
  const { aliases, systems } = maps.knowledge;
  const isOurs = codesIn(resource['code'], systems.measure, aliases).length > 0;
  const entries = isOurs ? [] : matchesIn(resource['code'], maps.measures, aliases);
  if (!isOurs && entries.length === 0) return undefined;
  return inSteps(resource, maps, [SIDES, mapComponents, mapMeasureAnswer, measureStep(entries)]);
}

const SIDES: Step = inMember(
  'bodySite',
  codesFrom((maps) => maps.sides),
);

function measureStep(entries: readonly MeasureEntry[]): Step {
  return (resource, maps) => {
    const [entry] = entries;
    if (!entry) return undefined;
    const coded = asMeasure(resource, entries, maps);
    // Two measures: the reader refuses what names both. One measure, but unlike in sign or stage: nobody can use it.
    if (entries.some(({ target }) => target.code !== entry.target.code)) return coded;
    const agreed = entries.every(({ fixed }) => canonicalJson(fixed) === canonicalJson(entry.fixed));
    return agreed ? withFixed(coded, entry, maps) : withConflict(coded);
  };
}

/** Adds the measure code and the group under which records are searched for our measures. */
function asMeasure(resource: JsonObject, entries: readonly MeasureEntry[], maps: SiteMaps): Translated {
  const { aliases, systems } = maps.knowledge;
  const code = withCodings(
    asObject(resource['code']) ?? {},
    entries.map(({ target }) => target),
    aliases,
  );
  const grouped = withCategory({ ...resource, code }, systems.group.split('|'), maps);
  return recoded(
    grouped,
    entries.map((entry) => mappedCode('Observation.code', entry)),
  );
}

function withCategory(
  resource: JsonObject,
  [system = '', code = '']: readonly string[],
  maps: SiteMaps,
): JsonObject {
  const category = listOf(resource['category']);
  const has = category.some((concept) => codesIn(concept, system, maps.knowledge.aliases).includes(code));
  return has ? resource : { ...resource, category: [...category, { coding: [{ system, code }] }] };
}

function withConflict(coded: Translated): Translated {
  const given = listOf(coded.resource['modifierExtension']);
  const modifierExtension = [...given, { url: CONFLICT, valueBoolean: true }];
  return { ...coded, resource: { ...coded.resource, modifierExtension } };
}

/** What a map supplies to one resource: each part says what became of the resource and what it assumed. */
interface Supplied {
  readonly resource: JsonObject;
  readonly assumed?: Readonly<Record<string, string>>;
  readonly overruled?: readonly string[];
}

type Supply = (resource: JsonObject, entry: MeasureEntry, maps: SiteMaps) => Supplied;

const SUPPLIES: readonly Supply[] = [supplyStage, supplyComponents, supplySide];

function withFixed(coded: Translated, entry: MeasureEntry, maps: SiteMaps): Translated {
  let { resource } = coded;
  const assumed: Record<string, string> = {};
  const overruled: string[] = [];
  for (const supply of SUPPLIES) {
    const supplied = supply(resource, entry, maps);
    ({ resource } = supplied);
    Object.assign(assumed, supplied.assumed);
    overruled.push(...(supplied.overruled ?? []));
  }
  const value = mapValue(resource, entry.fixed);
  if (value?.unitSupplied) assumed['unit'] = entry.fixed.unit ?? '';
  if (value?.signTurned) assumed['sign'] = '-1';
  const { remarks } = maps;
  return {
    ...unchanged(value ? { ...resource, [value.member]: value.value } : resource),
    mapped: coded.mapped,
    assumed: Object.keys(assumed),
    assumptions: Object.entries(assumed).map(([name, said]) =>
      filled(remarks.qualifiers[name] ?? name, said),
    ),
    remarks: overruled.map((said) => filled(remarks.overruled, said)),
    ...(value && { asFound: shownAsFound(value.asFound) }),
  };
}

function filled(template: string, value: string): string {
  return template.replaceAll('{value}', value);
}

/** As the readers of quantities show outside text. */
function shownAsFound({ value, unit }: { value: string; unit?: string }): { value: string; unit?: string } {
  return { value: clip(value), ...(unit !== undefined && { unit: shownUnit(unit) }) };
}

function supplyStage(resource: JsonObject, { fixed: { stage } }: MeasureEntry, maps: SiteMaps): Supplied {
  const { aliases, systems } = maps.knowledge;
  if (stage === undefined) return { resource };
  const stated = listOf(resource['category']).flatMap((concept) => codesIn(concept, systems.stage, aliases));
  if (stated.length === 0)
    return { resource: withCategory(resource, [systems.stage, stage], maps), assumed: { stage } };
  return { resource, overruled: stated.some((code) => code !== stage) ? ['stage'] : [] };
}

function supplyComponents(resource: JsonObject, { fixed }: MeasureEntry, maps: SiteMaps): Supplied {
  const { supplied, assumed, overruled } = suppliedComponents(resource, fixed.components, maps);
  if (supplied.length === 0) return { resource, overruled };
  const component = [...listOf(resource['component']), ...supplied];
  return { resource: { ...resource, component }, assumed, overruled };
}

/**
 * A side in the local code is a statement like any other: without another it places the value, and a body site that
 * says otherwise contradicts it, which the reader then reports.
 */
function supplySide(resource: JsonObject, { fixed: { side } }: MeasureEntry, maps: SiteMaps): Supplied {
  if (side === undefined) return { resource };
  const stated = sideOf(resource, maps.knowledge.laterality, maps.knowledge.aliases);
  if (stated.kind === 'conflict') return { resource };
  if (stated.kind === 'unknown') return { resource: atSide(resource, side, maps), assumed: { side } };
  const agrees = stated.sides.length === 1 && stated.sides[0] === side;
  return { resource: agrees ? resource : atSide(resource, side, maps) };
}

/** The side goes into the body site there is: a second entry beside it would mean both hips. */
function atSide(resource: JsonObject, side: Side, maps: SiteMaps): JsonObject {
  const { aliases, laterality } = maps.knowledge;
  const codings = hipSiteCoding(side, laterality);
  const given = resource['bodySite'];
  if (!Array.isArray(given))
    return { ...resource, bodySite: withCodings(asObject(given) ?? {}, codings, aliases) };
  const sites = asArray(given);
  const [first] = objectsIn(sites);
  if (!first) return { ...resource, bodySite: [...sites, withCodings({}, codings, aliases)] };
  return {
    ...resource,
    bodySite: sites.map((site) => (site === first ? withCodings(first, codings, aliases) : site)),
  };
}

import { canonicalJson } from '../base/canonical-json.js';
import type { Coding } from '../fhir/codings.js';
import type { StatedSide } from '../facts/laterality.js';
import { isDiagnosis, isRulebookCode, kindOf, mapCoding, targetSystems } from '../facts/map-kinds.js';
import type { MapKind } from '../facts/map-kinds.js';
import type {
  CodeIndex,
  MapEntry,
  MeasureEntry,
  SidedEntry,
  SiteMaps,
  VisitEntry,
} from '../facts/site-map-index.js';
import type { Report } from './check-rules.js';
import { fixedQualifiers, productsOf } from './map-qualifiers.js';
import type { Tell } from './map-qualifiers.js';
import type { Parsed } from './parse.js';
import type { ConceptMapFile, MapTarget } from './site-schema.js';
import type { Rulebook } from './types.js';

/** One target of one local code, as a map has it. */
interface Line {
  readonly file: string;
  readonly path: string;
  readonly source: Required<Coding>;
  readonly target: Required<Coding>;
  readonly says: MapTarget;
}

/** Where a local code may stand, and what is known of it there. */
interface Places {
  readonly operations: SidedEntry;
  readonly visits: VisitEntry;
  readonly conditions: SidedEntry;
  readonly measures: MeasureEntry;
  readonly components: MapEntry;
  readonly values: MapEntry;
  readonly sides: MapEntry;
}

/** A line that was understood. */
type Placed = {
  [Place in keyof Places]: { readonly place: Place; readonly entry: Places[Place] };
}[keyof Places];

/**
 * Reads a site's ConceptMaps (FHIR R4) into what translation needs. Each local code leads to one code that the
 * rulebook reads: an operation or visit, a measure with what it fixes, a qualifying component, a coded answer, a side,
 * or a diagnosis. The target system and code say which. Every line that can't be relied on is reported.
 */
export function readConceptMaps(
  maps: readonly Parsed<ConceptMapFile>[],
  rulebook: Rulebook,
  report: Report,
): SiteMaps {
  const placed: Placed[] = [];
  const seen = new Map<string, string>();
  for (const line of maps.flatMap((map) => linesOf(map, rulebook))) {
    const tell: Tell = (path, expected, found) =>
      report(line.file, path === '' ? line.path : `${line.path}.${path}`, expected, found);
    for (const one of placesOf(line, rulebook, tell)) {
      const key = canonicalJson([one.place, line.source, 'reasons' in one.entry ? one.entry.reasons : []]);
      const first = seen.get(key);
      if (first === undefined) placed.push(one);
      else tell('', `a local code mapped once, not again as in ${first}`, keyOf(line.source));
      seen.set(key, first ?? `${line.file} at ${line.path}`);
    }
  }
  return indexed(placed, rulebook);
}

function linesOf({ file, value }: Parsed<ConceptMapFile>, { knowledge }: Rulebook): readonly Line[] {
  return value.group.flatMap((group, groupIndex) =>
    group.element.flatMap((element, elementIndex) =>
      element.target.map((says, targetIndex) => {
        const path = `group[${groupIndex}].element[${elementIndex}].target[${targetIndex}]`;
        return {
          file,
          path,
          says,
          source: mapCoding(group.source, element.code, knowledge.aliases),
          target: mapCoding(group.target, says.code, knowledge.aliases),
        };
      }),
    ),
  );
}

function keyOf({ system, code }: Required<Coding>): string {
  return `${system}|${code}`;
}

/** The target must say no more than the local code does: the relation is read from target to source. */
const SAFE: ReadonlySet<string> = new Set(['equal', 'equivalent', 'wider', 'subsumes']);

function placesOf(line: Line, rulebook: Rulebook, tell: Tell): readonly Placed[] {
  const { source, target, says } = line;
  if (!SAFE.has(says.equivalence))
    tell(
      'equivalence',
      'equal, equivalent, wider or subsumes: a target says no more than its local code',
      says.equivalence,
    );
  if (isRulebookCode(source, rulebook.knowledge))
    tell('', 'a local code, not one the rulebook itself gives a meaning', keyOf(source));
  const systems = targetSystems(rulebook.knowledge);
  if (!systems.includes(target.system)) {
    tell('', `a target system among ${systems.join(', ')}`, target.system);
    return [];
  }
  const kind = kindOf(target, rulebook.knowledge);
  if (!kind) {
    tell('code', 'a code the rulebook reads', keyOf(target));
    return [];
  }
  return placesFor(kind, line, rulebook, tell);
}

function placesFor(kind: MapKind, line: Line, rulebook: Rulebook, tell: Tell): readonly Placed[] {
  const { source, target, file: map, says } = line;
  const entry = { source, target, map };
  const products = productsOf(says, tell);
  if (kind.kind !== 'operation' && kind.kind !== 'visit' && (says.dependsOn ?? []).length > 0)
    tell('dependsOn', 'none, only a visit may depend on its reason', String(says.dependsOn?.length));
  switch (kind.kind) {
    case 'measure': {
      const fixed = fixedQualifiers(kind.definition, products, rulebook, tell);
      return [{ place: 'measures', entry: { ...entry, fixed } }];
    }
    case 'operation':
    case 'visit': {
      if (isDiagnosis(source))
        tell('', 'a code of an order or a visit, a diagnosis alone is no operation', keyOf(source));
      const sided = { ...entry, ...sideIn(products, tell) };
      const reasons = reasonsIn(says, rulebook, tell);
      const visit: Placed = { place: 'visits', entry: { ...sided, reasons } };
      return kind.kind === 'operation' && reasons.length === 0
        ? [{ place: 'operations', entry: sided }, visit]
        : [visit];
    }
    case 'condition':
      return [{ place: 'conditions', entry: { ...entry, ...sideIn(products, tell) } }];
    case 'component':
    case 'value':
    case 'side':
      for (const name of products.keys()) tell('product', `no property beside a ${kind.kind}`, name);
      return [{ place: PLACE_OF[kind.kind], entry }];
  }
}

const PLACE_OF = { component: 'components', value: 'values', side: 'sides' } as const;

const SIDES = ['left', 'right', 'bilateral'] as const;

/** The side a local code of an operation or a diagnosis names. */
function sideIn(products: ReadonlyMap<string, string>, tell: Tell): { readonly side?: StatedSide } {
  for (const name of products.keys()) if (name !== 'side') tell('product', 'the property side only', name);
  const given = products.get('side');
  if (given === undefined) return {};
  const side = SIDES.find((each) => each === given);
  if (!side) tell('product.side', `one of ${SIDES.join(', ')}`, given);
  return side ? { side } : {};
}

/** The diagnoses with which a type of visit counts. */
function reasonsIn(says: MapTarget, { knowledge }: Rulebook, tell: Tell): readonly Required<Coding>[] {
  return (says.dependsOn ?? []).flatMap(({ property, system, value }, index) => {
    const path = `dependsOn[${index}]`;
    if (property !== 'reasonCode') tell(`${path}.property`, 'reasonCode', property);
    if (system === undefined) tell(`${path}.system`, 'the code system of the reason', 'nothing');
    return system === undefined ? [] : [mapCoding(system, value, knowledge.aliases)];
  });
}

function indexed(placed: readonly Placed[], { knowledge, about }: Rulebook): SiteMaps {
  const visits = new Map<string, Map<string, VisitEntry[]>>();
  for (const entry of placed.flatMap((one) => (one.place === 'visits' ? [one.entry] : []))) {
    const codes = visits.get(entry.source.system) ?? new Map<string, VisitEntry[]>();
    codes.set(entry.source.code, [...(codes.get(entry.source.code) ?? []), entry]);
    visits.set(entry.source.system, codes);
  }
  return {
    operations: byCode(placed.flatMap((one) => (one.place === 'operations' ? [one.entry] : []))),
    visits,
    conditions: byCode(placed.flatMap((one) => (one.place === 'conditions' ? [one.entry] : []))),
    measures: byCode(placed.flatMap((one) => (one.place === 'measures' ? [one.entry] : []))),
    components: byCode(placed.flatMap((one) => (one.place === 'components' ? [one.entry] : []))),
    values: byCode(placed.flatMap((one) => (one.place === 'values' ? [one.entry] : []))),
    sides: byCode(placed.flatMap((one) => (one.place === 'sides' ? [one.entry] : []))),
    knowledge: { aliases: knowledge.aliases, laterality: knowledge.laterality, systems: knowledge.systems },
    remarks: about.site.remarks,
  };
}

function byCode<Entry extends MapEntry>(entries: readonly Entry[]): CodeIndex<Entry> {
  const index = new Map<string, Map<string, Entry>>();
  for (const entry of entries) {
    const codes = index.get(entry.source.system) ?? new Map<string, Entry>();
    codes.set(entry.source.code, entry);
    index.set(entry.source.system, codes);
  }
  return index;
}

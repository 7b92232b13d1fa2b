import type {
  ConstructKind,
  FactDefinition,
  Hip,
  MeasureDefinition,
  ReplacementKindDefinition,
} from './definitions.js';
import { absentFact, unknownFact } from './fact.js';
import type { Fact } from './fact.js';
import type { SideReading } from './laterality.js';
import type { Body } from './read-record.js';
import type { PlannedOperation } from './recognition.js';

/** Where a replacement, or a part of it that only a total one has, would be recorded. */
const SETS: ReadonlySet<string> = new Set(['procedures', 'measures', 'localMeasures', 'devices']);

export interface ReplacementContext {
  readonly body: Body;
  readonly operations: readonly PlannedOperation[];
  readonly definitions: readonly FactDefinition[];
}

interface Stated {
  readonly code: ReplacementKindDefinition['values'][number];
  readonly from: readonly string[];
}

/**
 * What sort of replacement is in place. An operation says it, or a measured cup: a code for "artificial hip joint" is
 * given for partial and total ones alike, and a partial one has no cup.
 */
export function replacementKindFact(
  definition: ReplacementKindDefinition,
  place: { readonly hip: Hip; readonly construct: ConstructKind },
  facts: ReadonlyMap<string, Fact>,
  context: ReplacementContext,
): Fact {
  const { id } = definition;
  const { hip, construct } = place;
  if (construct !== 'in-place') return absentFact(id);
  if (hip === 'unknown') return unknownFact(id, 'side-unknown');
  const { body, definitions } = context;
  const stated = statedKind(hip, context, [
    ...cupImplants(definition, hip, body),
    ...cupReadings(facts, definitions),
  ]);
  if (stated) return codeFact(id, stated);
  const setsMissing = body.setsMissing.filter((key) => SETS.has(key));
  if (setsMissing.length > 0) return unknownFact(id, 'set-not-read', { setsMissing });
  return codeFact(id, { code: 'unstated', from: [] });
}

function statedKind(
  hip: Hip,
  { body, operations }: ReplacementContext,
  cup: readonly string[],
): Stated | undefined {
  const isHere = ({ side }: { readonly side: SideReading }): boolean =>
    side.kind !== 'sides' || side.sides.some((one) => one === hip);
  const { history } = body;
  const totals = history.arthroplasties.filter(isHere).map(({ name }) => name);
  if (totals.length > 0) return { code: 'total', from: totals };
  const others = history.otherReplacements.filter(isHere);
  const partial = others.filter(({ isPartial }) => isPartial).map(({ name }) => name);
  if (partial.length > 0)
    return { code: cup.length > 0 ? 'partial-with-cup' : 'partial', from: [...partial, ...cup] };
  if (others.length > 0) return { code: 'resurfacing', from: others.map(({ name }) => name) };
  // Whoever orders the revision of a total replacement says what is in place.
  const revised = operations.filter((one) => one.kind === 'revision' && isHere(one)).map(({ name }) => name);
  const from = [...cup, ...revised];
  return from.length > 0 ? { code: 'total', from } : undefined;
}

/** Implants of this hip that only a total replacement has. */
function cupImplants(
  { cupImplants: valueSets }: ReplacementKindDefinition,
  hip: Hip,
  { implants }: Body,
): readonly string[] {
  return implants
    .filter(
      ({ side, sets }) =>
        side.kind === 'sides' &&
        side.sides.some((one) => one === hip) &&
        valueSets.some((id) => sets.has(id)),
    )
    .map(({ name }) => name);
}

/** Where measures of the cup or liner in place were read. */
function cupReadings(
  facts: ReadonlyMap<string, Fact>,
  definitions: readonly FactDefinition[],
): readonly string[] {
  return definitions.filter(isOfCup).flatMap(({ id }) => {
    const fact = facts.get(id);
    return fact?.state.status === 'present' ? fact.provenance.from : [];
  });
}

function isOfCup(definition: FactDefinition): definition is MeasureDefinition {
  return (
    definition.kind === 'measure' &&
    definition.partOf?.every((part) => part === 'cup' || part === 'liner') === true
  );
}

function codeFact(id: string, { code, from }: Stated): Fact {
  return {
    id,
    state: { status: 'present', value: { kind: 'code', codes: [code] } },
    provenance: { from: [...new Set(from)].sort() },
    remarks: [],
  };
}

import { formatDate, readFhirDate } from '../base/dates.js';
import type { Span } from '../base/dates.js';
import { sortedUnique } from '../base/order.js';
import { conditionFact, usableEntries } from './condition-facts.js';
import type { AfterReplacementDefinition, ConditionDefinition, FactDefinition, Hip } from './definitions.js';
import type { Diagnosis } from './diagnosis.js';
import { absentFact, unknownFact } from './fact.js';
import type { Fact } from './fact.js';
import type { Remarks } from './knowledge.js';
import type { SideReading } from './laterality.js';
import type { Body } from './read-record.js';

export interface AfterReplacementContext {
  readonly hip: Hip;
  readonly body: Body;
  readonly definitions: readonly FactDefinition[];
  readonly remarks: Remarks;
}

/** Where a replacement would be recorded. */
const SETS: ReadonlySet<string> = new Set(['procedures', 'devices', 'conditions']);

/** What shows that this hip was replaced: the operations themselves, and whatever else is only said of a prosthesis. */
interface Replacement {
  readonly operations: readonly (Span | undefined)[];
  readonly signs: readonly (Span | undefined)[];
}

type Order = 'after' | 'before' | 'open' | 'never-replaced';

/**
 * A diagnosis of a native hip, recorded of one that had been replaced by then. One from before the replacement is its
 * history; where the dates do not tell, nobody can.
 */
export function afterReplacementFact(
  definition: AfterReplacementDefinition,
  context: AfterReplacementContext,
): Fact {
  const { id } = definition;
  const { hip, body, definitions, remarks } = context;
  const conditions = conditionsNamed(definition, definitions);
  const entries = conditions.flatMap((one) =>
    usableEntries(one, hip, body.diagnoses).map((entry) => ({ entry, title: one.title })),
  );
  if (entries.length === 0) return withoutEntries(id, conditions, { hip, body, remarks });
  const replacement = replacementOf(hip, body);
  const order = definition.newOnly ? orderSinceLast : orderOf;
  const placed = entries.map((one) => ({ ...one, order: order(one.entry, replacement) }));
  const after = definition.newOnly ? newSince(placed) : placed.filter((one) => one.order === 'after');
  if (after.length > 0) return presentFact(id, after);
  const from = sortedUnique(entries.map(({ entry }) => entry.from));
  if (placed.some((one) => one.order === 'open'))
    return unknownFact(id, 'input-missing', { provenance: { from } });
  const setsMissing = body.setsMissing.filter((key) => SETS.has(key));
  const isOpen = placed.some((one) => one.order === 'never-replaced') && setsMissing.length > 0;
  if (isOpen) return unknownFact(id, 'set-not-read', { provenance: { from }, setsMissing });
  // What is older settles only itself: another of them may be open.
  return withoutEntries(id, conditions, { hip, body, remarks });
}

type ConditionsOf = Map<AfterReplacementDefinition, readonly ConditionDefinition[]>;

/** Definitions belong to the rulebook and never change: those a definition names are looked up once. */
const conditionsIn = new WeakMap<readonly FactDefinition[], ConditionsOf>();

function conditionsNamed(
  definition: AfterReplacementDefinition,
  definitions: readonly FactDefinition[],
): readonly ConditionDefinition[] {
  const kept = conditionsIn.get(definitions) ?? (new Map() as ConditionsOf);
  const known = kept.get(definition);
  if (known) return known;
  const named = definitions.filter(
    (one): one is ConditionDefinition => one.kind === 'condition' && definition.of.includes(one.id),
  );
  conditionsIn.set(definitions, kept.set(definition, named));
  return named;
}

/** What was never recorded but after the replacement; an entry that may be older leaves it open whether it is new. */
function newSince<One extends { readonly title: string; readonly order: Order }>(
  placed: readonly One[],
): readonly One[] {
  const older = new Set(placed.filter(({ order }) => order !== 'after').map(({ title }) => title));
  return placed.filter(({ title }) => !older.has(title));
}

/** No such diagnosis of this hip: absent, or unknown for the reason the diagnosis itself is. */
function withoutEntries(
  id: string,
  conditions: readonly ConditionDefinition[],
  { hip, body, remarks }: Pick<AfterReplacementContext, 'hip' | 'body' | 'remarks'>,
): Fact {
  for (const one of conditions) {
    const { state, provenance, setsMissing } = conditionFact(one, hip, body.diagnoses, remarks);
    if (state.status === 'unknown')
      return unknownFact(id, state.reason, { provenance, ...(setsMissing && { setsMissing }) });
  }
  return absentFact(id);
}

function replacementOf(hip: Hip, { history, implanted }: Body): Replacement {
  const isHere = ({ side }: { readonly side: SideReading }): boolean =>
    side.kind === 'sides' && side.sides.some((one) => one === hip);
  const operations = [...history.arthroplasties, ...history.otherReplacements].filter(isHere);
  return {
    operations: operations.map(({ span }) => span),
    signs: implanted().flatMap((one) =>
      one.by !== 'procedure' && isHere(one) ? [readFhirDate(one.date)] : [],
    ),
  };
}

function orderOf({ date }: Diagnosis, { operations, signs }: Replacement): Order {
  const all = [...operations, ...signs];
  if (all.length === 0) return 'never-replaced';
  const then = readFhirDate(date);
  if (!then) return 'open';
  if (all.some((span) => span && span.to < then.from)) return 'after';
  const isDated = operations.length > 0 && operations.every((span) => span !== undefined);
  return isDated ? 'before' : 'open';
}

/** Whoever operated on the hip last knew what was on record by then: only what came after that is new. */
function orderSinceLast(entry: Diagnosis, replacement: Replacement): Order {
  const order = orderOf(entry, replacement);
  const then = readFhirDate(entry.date);
  if (order !== 'after' || !then) return order;
  const { operations } = replacement;
  if (operations.some((span) => span && then.to < span.from)) return 'before';
  return operations.every((span) => span && span.to < then.from) ? 'after' : 'open';
}

function presentFact(
  id: string,
  after: readonly { readonly entry: Diagnosis; readonly title: string }[],
): Fact {
  const texts = after.map(({ entry, title }) =>
    entry.date === undefined ? title : `${title}, ${formatDate(entry.date)}`,
  );
  const dates = sortedUnique(after.flatMap(({ entry }) => entry.date ?? []));
  return {
    id,
    state: { status: 'present', value: { kind: 'recorded', texts: sortedUnique(texts) } },
    provenance: {
      from: sortedUnique(after.map(({ entry }) => entry.from)),
      ...(dates[0] !== undefined && { date: dates[0] }),
    },
    remarks: [],
  };
}

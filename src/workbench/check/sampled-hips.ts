import type { ConstructKind, FactDefinition, MeasureDefinition, Stage } from '../../facts/definitions.js';
import type { Fact } from '../../facts/fact.js';
import type { HipRecord } from '../../facts/patient-record.js';
import type { Rulebook } from '../../rulebook/types.js';
import { edgesFor } from './check-reach.js';
import type { Edges } from './edge-values.js';
import { exactFact, knownFact, plausibleOf, recordedFact, unknownFact } from './edge-values.js';
import type { Goal } from './search.js';
import { goalsHold, searchState } from './search.js';
import { seededNumbers, shuffled } from './seeded.js';

/** How often a fact is at one of its edges, known at all, or a diagnosis recorded; ours, chosen so that rules meet. */
const AT_EDGE = 0.4;
const KNOWN = 0.85;
const RECORDED = 0.15;

/** What a sampled hip is made for. */
export type Aim = readonly Goal[];

export interface Sample {
  readonly seed: number;
  readonly count: number;
}

/** How often a hip is drawn anew when what is computed from it misses its aim. */
const MOST_DRAWS = 12;

/** What the engine makes of a record: its facts with those derived and computed. */
export type Complete = (record: HipRecord) => ReadonlyMap<string, Fact>;

/**
 * Hips as reading would leave them, before anything is derived or computed. Each is made for one of the aims, in turn:
 * what the record states by itself is set so that the aim can be met, all else is by chance, at the edges rules ask
 * about or anywhere plausible; a hip that misses its aim is drawn anew a few times, and then taken as it is.
 */
export function* sampledHips(
  aims: readonly Aim[],
  rulebook: Rulebook,
  { complete, seed, count }: Sample & { readonly complete: Complete },
): Iterable<HipRecord> {
  const next = seededNumbers(seed);
  const edges = edgesFor(rulebook.rules, rulebook);
  const statements = {
    planned: statementsOf(rulebook, 'planned'),
    'in-place': statementsOf(rulebook, 'in-place'),
  };
  const sampling: Sampling = { rulebook, edges, statements, next };
  for (let index = 0; index < count; index++) {
    const aim = aims[index % aims.length] ?? [];
    const search = searchState(aim, edges, (items) => shuffled(items, next));
    const aimed = search.kind === 'state' ? search.facts : new Map<string, Fact>();
    let hip = sampledHip(aimed, sampling);
    for (let draw = 1; draw < MOST_DRAWS && !goalsHold(aim, complete(hip)); draw++)
      hip = sampledHip(aimed, sampling);
    yield hip;
  }
}

interface Sampling {
  readonly rulebook: Rulebook;
  readonly edges: Edges;
  readonly statements: Readonly<Record<ConstructKind, ReadonlyMap<string, Statement>>>;
  readonly next: () => number;
}

function sampledHip(
  aimed: ReadonlyMap<string, Fact>,
  { rulebook, edges, statements, next }: Sampling,
): HipRecord {
  const procedure = aimed.get('procedure-kind') ?? pick(edges.get('procedure-kind') ?? [], next);
  const construct: ConstructKind = holds(procedure, 'implanted') ? 'in-place' : 'planned';
  const facts = new Map<string, Fact>();
  for (const definition of rulebook.facts) {
    if (definition.kind === 'derived') continue;
    const { id } = definition;
    const fact = id === 'procedure-kind' ? procedure : aimed.get(id);
    facts.set(id, { ...(fact ?? byChance(definition, edges, next)), ...statements[construct].get(id) });
  }
  return { hip: 'left', construct, facts, findings: [] };
}

/** A hip of which every number is known and nothing is diagnosed. */
export function plainHip(rulebook: Rulebook, edges: Edges, next: () => number): HipRecord {
  const construct: ConstructKind = next() < 0.5 ? 'planned' : 'in-place';
  const procedure = construct === 'planned' ? 'primary' : 'implanted';
  const facts = new Map<string, Fact>();
  for (const definition of rulebook.facts) {
    const { id, kind } = definition;
    if (kind === 'derived') continue;
    const statement = statementOf(definition, construct, rulebook);
    facts.set(id, { ...plainFact(definition, procedure, edges, next), ...statement });
  }
  return { hip: 'left', construct, facts, findings: [] };
}

function plainFact(definition: FactDefinition, procedure: string, edges: Edges, next: () => number): Fact {
  const { id, kind } = definition;
  if (kind === 'operation')
    return knownFact(id, { status: 'present', value: { kind: 'code', codes: [procedure] } });
  return valueByChance(definition, edges, next) ?? knownFact(id, { status: 'absent' });
}

function holds(fact: Fact | undefined, code: string): boolean {
  return (
    fact?.state.status === 'present' &&
    fact.state.value.kind === 'code' &&
    fact.state.value.codes.includes(code)
  );
}

function pick<Item>(items: readonly Item[], next: () => number): Item | undefined {
  return items[Math.floor(next() * items.length)];
}

function byChance(definition: FactDefinition, edges: Edges, next: () => number): Fact {
  const { id, kind } = definition;
  if (kind === 'operation') return pick(edges.get(id) ?? [], next) ?? unknownFact(id);
  if (isOnRecord(definition))
    return next() < RECORDED ? recordedFact(id) : knownFact(id, { status: 'absent' });
  return next() < KNOWN ? (valueByChance(definition, edges, next) ?? unknownFact(id)) : unknownFact(id);
}

/** Whether a fact is on record or not, and has no value besides. */
export function isOnRecord({ kind }: FactDefinition): boolean {
  return !WITH_VALUE.has(kind);
}

const WITH_VALUE: ReadonlySet<FactDefinition['kind']> = new Set([
  'measure',
  'observation',
  'patient',
  'first-dislocation',
  'carried-out',
  'episodes',
  'operation',
  'derived',
  'replacement-kind',
  'version-sign',
]);

function valueByChance(definition: FactDefinition, edges: Edges, next: () => number): Fact | undefined {
  if (definition.kind === 'measure') return measureByChance(definition, edges, next);
  if (
    definition.kind === 'replacement-kind' ||
    definition.kind === 'version-sign' ||
    (definition.kind === 'patient' && definition.of === 'sex')
  )
    return pick(edges.get(definition.id) ?? [], next);
  return isOnRecord(definition) ? undefined : numberByChance(definition, edges, next);
}

function measureByChance(definition: MeasureDefinition, edges: Edges, next: () => number): Fact {
  const { id, valueType, values = [], repeats } = definition;
  if (valueType === 'boolean')
    return knownFact(id, { status: 'present', value: { kind: 'flag', flag: next() < 0.5 } });
  if (valueType !== 'code') return numberByChance(definition, edges, next);
  const codes = repeats
    ? shuffled(values, next).slice(0, 1 + Math.floor(next() * 2))
    : shuffled(values, next).slice(0, 1);
  return knownFact(id, { status: 'present', value: { kind: 'code', codes } });
}

function numberByChance(definition: FactDefinition, edges: Edges, next: () => number): Fact {
  const edge = next() < AT_EDGE ? pick(edges.get(definition.id) ?? [], next) : undefined;
  if (edge) return edge;
  const { low, high } = plausibleOf(definition);
  const [from, to] = [Math.max(low, 0 - WIDEST), Math.min(high, WIDEST)];
  return exactFact(definition.id, Math.round(from + next() * (to - from)));
}

/** Numbers without plausible limits are counts and differences of angles. */
const WIDEST = 90;

export type Statement = Pick<Fact, 'unit' | 'stage' | 'qualifiers'>;

/** How each fact is stated, worked out once for a construct. */
export function statementsOf(rulebook: Rulebook, construct: ConstructKind): ReadonlyMap<string, Statement> {
  return new Map(
    rulebook.facts.map((definition) => [definition.id, statementOf(definition, construct, rulebook)]),
  );
}

/** Unit, stage and qualifiers, so that no number is left out for want of a definition. */
function statementOf(definition: FactDefinition, construct: ConstructKind, rulebook: Rulebook): Statement {
  const unit = 'unit' in definition ? { unit: definition.unit } : {};
  // A plan that was carried out is stated like the measure it planned.
  const measure = definition.kind === 'carried-out' ? rulebook.factById.get(definition.of) : definition;
  if (measure?.kind !== 'measure') return unit;
  const { qualifiers } = rulebook.about;
  const stated = measure.components.flatMap((name) => {
    const values = qualifiers[name];
    if (values === undefined) return [];
    const first = values === 'boolean' ? true : values[0];
    return first === undefined ? [] : [[name, first] as const];
  });
  const preferred: readonly Stage[] =
    construct === 'planned' ? ['planned', 'native'] : ['postoperative', 'native'];
  const stage = preferred.find((one) => measure.stages.includes(one)) ?? measure.stages[0];
  return {
    ...unit,
    ...(stage !== undefined && { stage }),
    ...(stated.length > 0 && { qualifiers: Object.fromEntries(stated) }),
  };
}

import type { ConstructKind, FactDefinition } from '../../facts/definitions.js';
import type { Fact } from '../../facts/fact.js';
import type { HipRecord } from '../../facts/patient-record.js';
import type { Rulebook } from '../../rulebook/types.js';
import { edgesFor } from './check-reach.js';
import { coveringRows, pairCount } from './covering-rows.js';
import { crossingValues } from './crossing-values.js';
import type { Edges } from './edge-values.js';
import { exactFact, knownFact, plausibleOf, unknownFact } from './edge-values.js';
import type { Complete, Statement } from './sampled-hips.js';
import { isOnRecord, statementsOf } from './sampled-hips.js';
import { seededNumbers, shuffled } from './seeded.js';

/** Hips in which any two edge values of two facts stand side by side, and how many such pairs there are. */
export interface PairedHips {
  /** Amid whatever else is recorded. */
  readonly amid: readonly HipRecord[];
  /** With one diagnosis at most, so that none hides behind another that speaks first. */
  readonly apart: readonly HipRecord[];
  readonly pairs: { readonly amid: number; readonly apart: number };
}

/** Every two values stand side by side in each of the two lists, the second apart from two diagnoses. */
export function pairedHips(rulebook: Rulebook, complete: Complete, seed: number): PairedHips {
  const next = seededNumbers(seed);
  const edges = edgesFor(rulebook.rules, rulebook);
  const crossings = crossingValues(rulebook, { complete, edges, next });
  const drawn = new Map([...crossings].map(([id, values]) => [id, shuffled(values, next)] as const));
  const factors = rulebook.facts.flatMap((definition) => factorOf(definition, edges, drawn) ?? []);
  const diagnoses = factors.filter(({ isDiagnosis }) => isDiagnosis);
  const others = factors.filter(({ isDiagnosis }) => !isDiagnosis);
  const one: Factor = {
    values: [[], ...diagnoses.flatMap(({ values }) => values.slice(1))].map((facts) => [
      ...diagnoses.map(({ values }) => values[0]?.[0]).filter((fact) => fact !== undefined),
      ...facts,
    ]),
    isDiagnosis: true,
  };
  const isStated: Factor = { values: [[], []], isDiagnosis: false };
  const statements = {
    planned: statementsOf(rulebook, 'planned'),
    'in-place': statementsOf(rulebook, 'in-place'),
  };
  const hipsOf = (list: readonly Factor[]): readonly HipRecord[] =>
    coveringRows(sizesOf(list), next).map((row) => {
      const facts = list.flatMap(({ values }, index) => values[row[index] ?? 0] ?? []);
      return hipOf(facts, rulebook, row[0] === 0 ? statements : undefined);
    });
  const [amid, apart] = [
    [isStated, ...factors],
    [isStated, one, ...others],
  ];
  return {
    amid: hipsOf(amid),
    apart: hipsOf(apart),
    pairs: { amid: pairCount(sizesOf(amid)), apart: pairCount(sizesOf(apart)) },
  };
}

/** Something that is set by itself: each value sets one fact or several, the quiet one first. */
interface Factor {
  readonly values: readonly (readonly Fact[])[];
  readonly isDiagnosis: boolean;
}

function sizesOf(factors: readonly Factor[]): readonly number[] {
  return factors.map(({ values }) => values.length);
}

/** The most values beyond those asked about by name: where something worked out from a fact crosses a limit. */
const MOST_CROSSINGS = 6;

function factorOf(
  definition: FactDefinition,
  edges: Edges,
  crossings: ReadonlyMap<string, readonly number[]>,
): Factor | undefined {
  const { id, kind } = definition;
  if (kind === 'derived') return undefined;
  const isDiagnosis = isOnRecord(definition);
  const asked = edges.get(id) ?? [];
  const known = new Set(asked.flatMap((fact) => exact(fact) ?? []));
  const crossed = (crossings.get(id) ?? []).filter((value) => !known.has(value)).slice(0, MOST_CROSSINGS);
  const values = [...asked, ...crossed.map((value) => exactFact(id, value))];
  if (values.length === 0) return shownOnly(definition);
  const quiet = isDiagnosis ? [knownFact(id, { status: 'absent' })] : [unknownFact(id)];
  const loud = values.filter(({ state }) => state.status !== quiet[0]?.state.status);
  // The status alone is asked of some facts: a number stands for "known".
  const usable = loud.map((fact) =>
    isDiagnosis || !isRecorded(fact) ? fact : (middleOf(definition) ?? fact),
  );
  return { values: [quiet, ...usable.map((fact) => [fact])], isDiagnosis };
}

function isRecorded({ state }: Fact): boolean {
  return state.status === 'present' && state.value.kind === 'recorded';
}

/** No condition asks about it, but an option, a margin or a jump distance may be told with it. */
function shownOnly(definition: FactDefinition): Factor | undefined {
  if (definition.kind !== 'measure') return undefined;
  const { id, values = [] } = definition;
  const codes = values.map((code) =>
    knownFact(id, { status: 'present', value: { kind: 'code', codes: [code] } }),
  );
  const known = codes.length > 0 ? codes : [middleOf(definition)].filter((fact) => fact !== undefined);
  return { values: [[unknownFact(id)], ...known.map((fact) => [fact])], isDiagnosis: false };
}

function middleOf(definition: FactDefinition): Fact | undefined {
  const { low, high } = plausibleOf(definition);
  return Number.isFinite(low) && Number.isFinite(high)
    ? exactFact(definition.id, Math.round((low + high) / 2))
    : undefined;
}

function exact({ state, error }: Fact): number | undefined {
  return state.status === 'present' && state.value.kind === 'quantity' && error === 0
    ? state.value.interval.low
    : undefined;
}

/** What no rule asks about, and nothing is told with. */
function unasked({ facts }: Rulebook): readonly Fact[] {
  return facts
    .filter(({ kind }) => kind !== 'derived')
    .map((definition) =>
      isOnRecord(definition) ? knownFact(definition.id, { status: 'absent' }) : unknownFact(definition.id),
    );
}

type Statements = Readonly<Record<ConstructKind, ReadonlyMap<string, Statement>>>;

function hipOf(facts: readonly Fact[], rulebook: Rulebook, statements: Statements | undefined): HipRecord {
  const byId = new Map([...unasked(rulebook), ...facts].map((fact) => [fact.id, fact]));
  const procedure = byId.get('procedure-kind')?.state;
  const isInPlace =
    procedure?.status === 'present' &&
    procedure.value.kind === 'code' &&
    procedure.value.codes.includes('implanted');
  const construct: ConstructKind = isInPlace ? 'in-place' : 'planned';
  const stated = new Map(
    [...byId].map(([id, fact]) => [id, { ...fact, ...statements?.[construct].get(id) }]),
  );
  return { hip: 'left', construct, facts: stated, findings: [] };
}

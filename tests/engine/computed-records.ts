import { expect } from 'vitest';
import { computeAll } from '../../src/engine/compute.js';
import type { Computed } from '../../src/engine/compute.js';
import { COMPUTATIONS } from '../../src/engine/computations.js';
import { deriveFacts } from '../../src/engine/derive.js';
import type { ConstructKind } from '../../src/facts/definitions.js';
import type { Fact } from '../../src/facts/fact.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { coded, hipOf, measure, quantity, read } from '../facts/records.js';
import { shipped } from '../rulebook/shipped.js';

/** What the engine computes of a record, of which only the values stated are told. */

export type Values = Readonly<Record<string, number | string>>;

function stageOf(id: string, construct: ConstructKind): string {
  const definition = shipped.factById.get(id);
  const stages: readonly string[] = definition?.kind === 'measure' ? definition.stages : [];
  const own = construct === 'planned' ? 'planned' : 'postoperative';
  const stage = stages.includes(own) ? own : stages[0];
  if (stage === undefined) throw new Error(`${id} is no measure`);
  return stage;
}

function valueOf(id: string, value: number | string): JsonObject {
  if (typeof value === 'string') return coded(value);
  const definition = shipped.factById.get(id);
  return quantity(value, definition && 'unit' in definition ? (definition.unit ?? '1') : '1');
}

export function derivedFacts(
  values: Values,
  construct: ConstructKind = 'planned',
): ReadonlyMap<string, Fact> {
  const measures = Object.entries(values).map(([id, value]) =>
    measure(id, valueOf(id, value), { stages: [stageOf(id, construct)] }),
  );
  return deriveFacts(hipOf(read({ measures, construct })).facts, construct, shipped.knowledge);
}

export function computedOf(id: string, facts: ReadonlyMap<string, Fact>): Computed {
  const one = computeAll({ rulebook: shipped, table: COMPUTATIONS, facts }, new Set([id])).get(id);
  if (!one) throw new Error(`no computation ${id}`);
  expect(one.failure).toBeUndefined();
  return one;
}

export function computed(id: string, values: Values, construct: ConstructKind = 'planned'): Computed {
  return computedOf(id, derivedFacts(values, construct));
}

export function shown(id: string, values: Values, construct: ConstructKind = 'planned'): number {
  return computed(id, values, construct).shown ?? NaN;
}

/** What keeps a computation from being known, by the measures that would tell it. */
export function needsOf({ fact }: Computed): readonly string[] {
  return fact.state.status === 'unknown' ? fact.state.needs : (fact.narrowedBy ?? []);
}

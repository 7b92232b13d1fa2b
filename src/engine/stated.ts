import { exactly } from '../base/interval.js';
import { sortedUnique } from '../base/order.js';
import { unknownFact } from '../facts/fact.js';
import type { Fact, UnknownReason } from '../facts/fact.js';

/** A quantity by its id, and the unit it is told in. */
interface Named {
  readonly id: string;
  readonly unit: string;
}

/** Whether something was stated of it that can't be used: refused, contradicted, unclear or of an unknown side. */
export function wasStatedUnusably({ state }: Fact): boolean {
  return state.status === 'unknown' && state.reason !== 'not-recorded' && state.reason !== 'set-not-read';
}

/** A quantity that another statement says is not there, or is that of the usual. */
export function noneOf(
  { id, unit }: Named,
  by: Pick<Fact, 'provenance' | 'remarks'> & Partial<Fact>,
  value = 0,
): Fact {
  return {
    id,
    state: { status: 'present', value: { kind: 'quantity', interval: exactly(value) } },
    unit,
    error: 0,
    ...(by.stage !== undefined && { stage: by.stage }),
    ...(by.retained && { retained: by.retained }),
    provenance: by.provenance,
    remarks: by.remarks,
    ...(by.assumptions && { assumptions: by.assumptions }),
  };
}

/** A quantity that can't be told, and what would tell it. */
export function untold({ id, unit }: Named, reason: UnknownReason, needs: readonly string[]): Fact {
  const state = { status: 'unknown', reason, needs: sortedUnique(needs) } as const;
  return { ...unknownFact(id, reason, { unit }), state };
}

/** What would tell a fact that is not known. */
export function needsOf({ id, state }: Fact): readonly string[] {
  return state.status === 'unknown' ? state.needs : [id];
}

export function codesOf(fact: Fact | undefined): readonly string[] {
  return fact?.state.status === 'present' && fact.state.value.kind === 'code' ? fact.state.value.codes : [];
}

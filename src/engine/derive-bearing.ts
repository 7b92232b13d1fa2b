import type { Fact } from '../facts/fact.js';
import { NO_PROVENANCE, quantityOf, unknownFact } from '../facts/fact.js';
import type { Remarks } from '../facts/knowledge.js';

/** One ball or two: dual mobility when the liner says so, or when a mobile liner is measured. */
export function articulationOf(facts: ReadonlyMap<string, Fact>, remarks: Remarks): Fact {
  const liner = facts.get('liner-type');
  const mobile = facts.get('mobile-liner-diameter');
  const codes =
    liner?.state.status === 'present' && liner.state.value.kind === 'code' ? liner.state.value.codes : [];
  const dual = codes.includes('dual-mobility') || quantityOf(mobile) !== undefined;
  // What was stated and could not be used is no reason to assume the usual.
  const doubtful = [liner, mobile].filter((fact) => fact !== undefined && wasStated(fact));
  if (!dual && doubtful.length > 0) {
    const needs = doubtful.flatMap((fact) => fact?.id ?? []);
    return {
      ...unknownFact('articulation', 'refused'),
      state: { status: 'unknown', reason: 'refused', needs },
    };
  }
  return {
    id: 'articulation',
    state: { status: 'present', value: { kind: 'code', codes: [dual ? 'dual-mobility' : 'single'] } },
    provenance: liner?.provenance ?? NO_PROVENANCE,
    remarks: dual || codes.length > 0 ? [] : [remarks.singleArticulationAssumed],
  };
}

function wasStated({ state }: Fact): boolean {
  return (
    state.status === 'unknown' &&
    state.reason !== 'not-recorded' &&
    state.reason !== 'set-not-read' &&
    state.reason !== 'side-unknown'
  );
}

/** With dual mobility the mobile liner is the head that would have to jump. */
export function effectiveHead(facts: ReadonlyMap<string, Fact>, articulation: Fact): Fact {
  if (articulation.state.status === 'unknown')
    return { ...articulation, id: 'effective-head-diameter', unit: 'mm' };
  const dual =
    articulation.state.status === 'present' &&
    articulation.state.value.kind === 'code' &&
    articulation.state.value.codes.includes('dual-mobility');
  const source = facts.get(dual ? 'mobile-liner-diameter' : 'head-diameter');
  if (!source) return unknownFact('effective-head-diameter', 'not-recorded', { unit: 'mm' });
  return { ...source, id: 'effective-head-diameter' };
}

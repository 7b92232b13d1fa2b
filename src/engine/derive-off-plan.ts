import type { Interval } from '../base/interval.js';
import { sortedUnique } from '../base/order.js';
import { roundEnd } from '../base/rounding.js';
import type { Fact } from '../facts/fact.js';
import { quantityOf, unknownFact } from '../facts/fact.js';
import type { DeriveWords } from './derive.js';
import { cupFacts } from './derive-cup.js';

type Facts = ReadonlyMap<string, Fact>;

/**
 * How far a cup lies from its plan: both angles of the plan in the radiographic definition, and the size of each
 * difference, with the measuring band of the measured angle. Angles against different planes are not compared, and
 * nothing but a postoperative measurement is.
 */
export function offPlanFacts(facts: Facts, words: DeriveWords): readonly Fact[] {
  const inclination = facts.get('planned-cup-inclination');
  const anteversion = facts.get('planned-cup-anteversion');
  if (!inclination || !anteversion) return [];
  const [planned, version] = cupFacts({ inclination, anteversion, construct: 'planned', words });
  if (!planned || !version) return [];
  return [
    planned,
    version,
    offPlan('cup-inclination', facts, planned),
    offPlan('cup-anteversion', facts, version),
  ];
}

function offPlan(angle: 'cup-inclination' | 'cup-anteversion', facts: Facts, planned: Fact): Fact {
  const id = `${angle}-off-plan`;
  const unit = { unit: 'deg' };
  const measured = facts.get(angle) ?? unknownFact(angle, 'not-recorded', unit);
  const [was, meant] = [quantityOf(measured), quantityOf(planned)];
  const unknown = (needs: readonly string[], reason: 'input-missing' | 'definition-unknown'): Fact => ({
    ...unknownFact(id, reason, unit),
    state: { status: 'unknown', reason, needs: sortedUnique(needs) },
  });
  if (!was || !meant) {
    const parts = [measured, planned].filter((part) => quantityOf(part) === undefined);
    return unknown(parts.flatMap(needsOf), 'input-missing');
  }
  if (measured.stage !== 'postoperative') return unknown([angle], 'input-missing');
  if (planeOf(measured) !== planeOf(planned)) return unknown([angle, planned.id], 'definition-unknown');
  const interval = sizeOfDifference(was, meant);
  return {
    id,
    state: { status: 'present', value: { kind: 'quantity', interval } },
    ...unit,
    // A plan has no measuring error; where that of the measurement isn't known, nothing is clearly off.
    ...(measured.error !== undefined && { error: measured.error }),
    provenance: {
      ...measured.provenance,
      from: sortedUnique([...measured.provenance.from, ...planned.provenance.from]),
    },
    remarks: sortedUnique([...measured.remarks, ...planned.remarks]),
    ...(interval.low !== interval.high && { narrowedBy: [angle, planned.id] }),
  };
}

function needsOf({ id, state }: Fact): readonly string[] {
  return state.status === 'unknown' ? state.needs : [id];
}

/** An unstated plane counts as a supine film, as everywhere. */
function planeOf(fact: Fact): string {
  const plane = fact.qualifiers?.['reference-plane'];
  return typeof plane === 'string' ? plane : 'supine-film';
}

function sizeOfDifference(a: Interval, b: Interval): Interval {
  // "Below 48" has no lower end, and so the difference has no greatest size.
  const low = roundEnd(a.low - b.high, 'deg');
  const high = roundEnd(a.high - b.low, 'deg');
  const sizes = [Math.abs(low), Math.abs(high)];
  return { low: low <= 0 && high >= 0 ? 0 : Math.min(...sizes), high: Math.max(...sizes) };
}

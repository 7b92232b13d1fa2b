import { sortedUnique } from '../base/order.js';
import { yearsBetween } from '../base/years-between.js';
import type { ConstructKind } from '../facts/definitions.js';
import type { Fact } from '../facts/fact.js';
import { unknownFact } from '../facts/fact.js';
import { codesOf, needsOf, noneOf, untold } from './stated.js';

type Facts = ReadonlyMap<string, Fact>;

const YEARS = { id: 'liner-years-in-place', unit: 'a' };
const CROSSLINKED = { id: 'liner-crosslinked', unit: '1' };

/**
 * Years from the replacement of a hip to the film on which its wear rate was read. Only where one operation is on record
 * and no revision: otherwise the liner may be younger than the hip.
 */
export function linerYears(facts: Facts, construct: ConstructKind): Fact {
  const rate = named(facts, 'head-penetration-rate');
  const [replaced, revised] = ['earlier-hip-replacement', 'earlier-hip-revision'].map((id) =>
    named(facts, id),
  );
  const isNew = construct === 'planned' && !codesOf(facts.get('component-retained')).includes('liner');
  if (isNew || !replaced || !revised || rate.state.status !== 'present')
    return untold(YEARS, 'not-recorded', [rate.id]);
  if (revised.state.status !== 'absent') return untold(YEARS, 'input-missing', needsOf(revised));
  if (replaced.state.status !== 'present') return untold(YEARS, 'input-missing', [replaced.id]);
  const [start, end] = [replaced.provenance.date, rate.provenance.date];
  if (start === undefined || end === undefined || replaced.provenance.from.length > 1)
    return untold(YEARS, 'input-missing', [replaced.id]);
  const years = yearsBetween(start, end);
  if (years.low < 0) return untold(YEARS, 'input-missing', [replaced.id]);
  return {
    ...YEARS,
    state: { status: 'present', value: { kind: 'quantity', interval: years } },
    error: 0,
    provenance: {
      from: sortedUnique([...replaced.provenance.from, ...rate.provenance.from]),
      date: start,
    },
    remarks: replaced.remarks,
    ...(years.low !== years.high && { narrowedBy: [replaced.id] }),
  };
}

function named(facts: Facts, id: string): Fact {
  return facts.get(id) ?? unknownFact(id, 'not-recorded');
}

const POLYETHYLENE: Readonly<Record<string, number>> = {
  'metal-on-conventional-polyethylene': 0,
  'ceramic-on-conventional-polyethylene': 0,
  'metal-on-crosslinked-polyethylene': 1,
  'ceramic-on-crosslinked-polyethylene': 1,
};

/** Whether the polyethylene of a liner is cross-linked, 1 or 0; of a bearing without polyethylene it can't be told. */
export function linerCrosslinked(facts: Facts): Fact {
  const bearing = named(facts, 'bearing-couple');
  const [code = '', ...others] = codesOf(bearing);
  const crosslinked = POLYETHYLENE[code];
  if (crosslinked !== undefined && others.length === 0) return noneOf(CROSSLINKED, bearing, crosslinked);
  if (bearing.state.status === 'unknown') return { ...bearing, ...CROSSLINKED };
  return untold(CROSSLINKED, 'input-missing', [bearing.id]);
}

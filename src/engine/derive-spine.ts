import { readFhirDate } from '../base/dates.js';
import type { Interval } from '../base/interval.js';
import { spanOf } from '../base/interval.js';
import { compareText, sortedUnique } from '../base/order.js';
import { roundForUnit } from '../base/rounding.js';
import { degrees } from '../base/units.js';
import { lumbarFlexion, spinopelvicMobility } from '../biomechanics/spine/spinopelvic.js';
import type { PelvicAngle } from '../biomechanics/spine/spinopelvic.js';
import type { Fact, Provenance } from '../facts/fact.js';
import { quantityOf, unknownFact } from '../facts/fact.js';
import type { Remarks } from '../facts/knowledge.js';

type Facts = ReadonlyMap<string, Fact>;

/** Lordosis given up between standing and bending forward on a seat. */
export function lumbarFlexionFact(facts: Facts): Fact {
  const id = 'lumbar-flexion';
  const parts = [named(facts, 'lumbar-lordosis-standing'), named(facts, 'lumbar-lordosis-flexed-seated')];
  const [standing, flexedSeated] = parts.map(finiteQuantity);
  if (!standing || !flexedSeated) return missingQuantity(id, parts, finiteQuantity);
  const at = (from: number, to: number): number =>
    lumbarFlexion({ standing: degrees(from), flexedSeated: degrees(to) });
  return joinedQuantity(id, overCorners(standing, flexedSeated, at), parts, []);
}

const ANGLES: readonly PelvicAngle[] = ['sacral-slope', 'spinopelvic-tilt', 'app-tilt'];

/**
 * Change of sacral slope from standing to relaxed-seated, positive when the pelvis rolls back. A rigid pelvis changes
 * all its angles alike, so any of three tells it. Where several are recorded it is the span of them all: then no
 * measure can turn an outcome by being left out.
 */
export function sacralSlopeChange(facts: Facts, remarks: Remarks): Fact {
  const id = 'sacral-slope-change';
  const pairs = ANGLES.map((angle) => pairOf(angle, facts));
  const read = pairs.flatMap(({ angle, parts, change }) => (change ? [{ angle, parts, change }] : []));
  if (read.length === 0) {
    const begun = pairs.filter(({ parts }) => parts.some((part) => finiteQuantity(part) !== undefined));
    return missingQuantity(
      id,
      (begun.length > 0 ? begun : pairs.slice(0, 1)).flatMap(({ parts }) => parts),
      finiteQuantity,
    );
  }
  const span = spanOf(read.flatMap(({ change }) => [change.low, change.high]));
  const slope = read.find(({ angle }) => angle === 'sacral-slope')?.change;
  const settled = slope && slope.low === span.low && slope.high === span.high;
  const kinds = settled ? [] : read.flatMap(({ angle }) => remarkOf(angle, remarks));
  const differ = read.some(({ change }) => change.low !== span.low || change.high !== span.high);
  const used = settled && !differ ? read.slice(0, 1) : read;
  return joinedQuantity(
    id,
    span,
    used.flatMap(({ parts }) => parts),
    [...kinds, ...(differ ? [remarks.pelvicAnglesDiffer] : [])],
  );
}

function remarkOf(angle: PelvicAngle, remarks: Remarks): readonly string[] {
  switch (angle) {
    case 'sacral-slope':
      return [];
    case 'spinopelvic-tilt':
      return [remarks.changeReadFromSpinopelvicTilt];
    case 'app-tilt':
      return [remarks.changeReadFromAppTilt];
    default:
      return angle satisfies never;
  }
}

interface Pair {
  readonly angle: PelvicAngle;
  readonly parts: readonly Fact[];
  readonly change?: Interval;
}

function pairOf(angle: PelvicAngle, facts: Facts): Pair {
  const parts = [named(facts, `${angle}-standing`), named(facts, `${angle}-relaxed-seated`)];
  const [standing, seated] = parts.map(finiteQuantity);
  if (!standing || !seated) return { angle, parts };
  const at = (from: number, to: number): number =>
    spinopelvicMobility({ angle, standing: degrees(from), seated: degrees(to) });
  return { angle, parts, change: overCorners(standing, seated, at) };
}

/** A difference only rises or only falls with each part, so its ends lie at theirs. */
function overCorners(a: Interval, b: Interval, at: (first: number, second: number) => number): Interval {
  return spanOf(
    [a.low, a.high].flatMap((first) =>
      [b.low, b.high].map((second) => roundForUnit(at(first, second), 'deg')),
    ),
  );
}

function named(facts: Facts, id: string): Fact {
  return facts.get(id) ?? unknownFact(id, 'not-recorded', { unit: 'deg' });
}

function finiteQuantity(fact: Fact): Interval | undefined {
  const interval = quantityOf(fact);
  return interval && Number.isFinite(interval.low) && Number.isFinite(interval.high) ? interval : undefined;
}

/** A quantity made of several, of which some have no such number. */
export function missingQuantity(
  id: string,
  parts: readonly Fact[],
  numberIn: (part: Fact) => Interval | undefined,
): Fact {
  const open = parts.filter((part) => numberIn(part) === undefined);
  const needs = open.flatMap(({ id: own, state }) => (state.status === 'unknown' ? state.needs : [own]));
  // What is made of nothing is itself not recorded, and no more worth writing down than its parts.
  const reason = parts.every(({ state }) => state.status === 'unknown' && state.reason === 'not-recorded')
    ? 'not-recorded'
    : 'input-missing';
  return {
    ...unknownFact(id, reason, { unit: 'deg' }),
    state: { status: 'unknown', reason, needs: sortedUnique(needs) },
  };
}

/** A quantity in degrees made of several, with the words and the sources of them all. */
export function joinedQuantity(
  id: string,
  interval: Interval,
  parts: readonly Fact[],
  remarks: readonly string[],
): Fact {
  return {
    id,
    state: { status: 'present', value: { kind: 'quantity', interval } },
    unit: 'deg',
    error: 0,
    provenance: joined(parts),
    remarks: sortedUnique([...parts.flatMap((part) => part.remarks), ...remarks]),
    ...(interval.low !== interval.high && { narrowedBy: sortedUnique(parts.map((part) => part.id)) }),
  };
}

/** Where all parts came from; as old as the oldest of them. */
function joined(parts: readonly Fact[]): Provenance {
  const dates = parts
    .flatMap(({ provenance: { date } }) => {
      const span = readFhirDate(date);
      return span && date !== undefined ? [{ date, from: span.from }] : [];
    })
    .sort((a, b) => a.from - b.from || compareText(a.date, b.date));
  const from = sortedUnique(parts.flatMap(({ provenance }) => provenance.from));
  return { from, ...(dates[0] && { date: dates[0].date }) };
}

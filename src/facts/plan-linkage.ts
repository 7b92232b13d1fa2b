import type { Span } from '../base/dates.js';
import { sortedUnique } from '../base/order.js';
import type { DataFinding, Side } from './definitions.js';
import type { SideReading } from './laterality.js';
import type { PlannedOperation, RequestReading, Ties } from './recognition.js';
import { requestsNamed } from './requests.js';
import type { Note, Reading } from './readings.js';

/** What the plans say about sides, against what was ordered. */
export interface LinkageOutcome {
  readonly findings: readonly DataFinding[];
  /** Planned readings that still count: not those of a revoked, completed or erroneous order. */
  readonly readings: readonly Reading[];
  /** Planned readings of operations done since: they plan nothing any more, but say what was meant. */
  readonly carriedOut: readonly Reading[];
  readonly notes: readonly Note[];
}

/** What plans are compared with. */
export interface LinkageSources {
  readonly orders: readonly RequestReading[];
  /** Hips the call speaks of. */
  readonly hips: readonly Side[];
  /** Replacements completed, with the side and the time where both are known. */
  readonly done: readonly { readonly side: SideReading; readonly span?: Span | undefined }[];
}

/**
 * Compares the side of each planned value with the orders it is tied to: by `basedOn`, a shared requisition, or else
 * a shared encounter. Two ordered sides are no conflict. A plan tied to none, for a side without an open order, is
 * pointed out but never called a conflict; one whose operation has been done since counts no more.
 */
export function linkPlans(readings: readonly Reading[], sources: LinkageSources): LinkageOutcome {
  const { orders, hips } = sources;
  const findings: DataFinding[] = [];
  const kept: Reading[] = [];
  const strangers: Reading[] = [];
  const outdated: Reading[] = [];
  const carriedOut: Reading[] = [];
  const completed: Reading[] = [];
  for (const reading of readings) {
    if (reading.stage !== 'planned' || reading.sides.length === 0) {
      kept.push(reading);
      continue;
    }
    const tied = tiedOrders(reading, orders);
    if (tied.length > 0 && tied.every((order) => !order.open)) {
      outdated.push(reading);
      // The plan of an order that was revoked was never carried out, whatever was done since.
      if (tied.some((order) => order.completed) && isCarriedOut(reading, sources.done))
        completed.push(reading);
      continue;
    }
    if (tied.length === 0 && isCarriedOut(reading, sources.done)) {
      carriedOut.push(reading);
      continue;
    }
    kept.push(reading);
    const open = tied.filter((order) => order.open).map((order) => order.operation);
    const isCompared = !reading.sideInferred && !isCarriedOut(reading, sources.done);
    if (isCompared) findings.push(...sideConflicts(reading, open));
    if (reading.ties.basedOn.length === 0 && open.length === 0 && isForOtherHip(reading, orders, hips))
      strangers.push(reading);
  }
  return {
    findings: [
      ...findings,
      ...implantConflicts(orders),
      ...strangerFindings(strangers),
      ...outdatedFindings(outdated, kept, hips),
    ],
    readings: kept,
    carriedOut: [...carriedOut, ...completed],
    notes: [
      ...outdated.map(({ from }) => ({ from, why: 'plan of an order that is no longer open' })),
      ...carriedOut.map(({ from }) => ({ from, why: 'plan of an operation done since' })),
    ],
  };
}

/** Every hip the plan is for was operated on after it was made. */
function isCarriedOut(reading: Reading, done: LinkageSources['done']): boolean {
  const made = reading.span;
  if (!made) return false;
  return reading.sides.every((hip) =>
    done.some(
      ({ side, span }) =>
        span !== undefined && span.from > made.to && side.kind === 'sides' && side.sides.includes(hip),
    ),
  );
}

/** What a plan says it belongs to, and for which hips it is. */
export interface PlanTies {
  readonly ties: Ties;
  readonly sides: readonly Side[];
}

export function tiedOrders(
  { ties, sides }: PlanTies,
  orders: readonly RequestReading[],
): readonly RequestReading[] {
  // A plan that names its order is tied to that one, also when it was not sent; only an unnamed one goes by its visit.
  if (ties.basedOn.length > 0) {
    return [...new Set(ties.basedOn.flatMap((name) => requestsNamed(orders, name)))];
  }
  const { group, encounter } = ties;
  // A request for implants is itself a plan: sharing a visit with it, or being it, ties a plan to no operation.
  const operations = orders.filter(({ forDevice }) => !forDevice);
  const sameGroup =
    group === undefined ? [] : operations.filter((order) => order.operation.ties.group === group);
  if (sameGroup.length > 0) return sameGroup;
  if (encounter === undefined) return [];
  const sameVisit = operations.filter((order) => order.operation.ties.encounter === encounter);
  const ownSide = sameVisit.filter(({ operation }) => coversSide(operation, sides));
  return ownSide.length > 0 ? ownSide : sameVisit;
}

function coversSide({ side }: PlannedOperation, sides: readonly Side[]): boolean {
  return side.kind === 'sides' && sides.every((each) => side.sides.includes(each));
}

/** Implants asked for on another side than the order they belong to: a conflict also where they plan no value. */
function implantConflicts(orders: readonly RequestReading[]): readonly DataFinding[] {
  return orders.flatMap(({ operation, open, forDevice }) => {
    const { name, side, sideFrom, ties } = operation;
    if (!forDevice || !open || sideFrom !== 'itself' || side.kind !== 'sides') return [];
    const plan = { from: name, sides: side.sides, ties };
    const tied = tiedOrders(plan, orders).filter((order) => order.open);
    return sideConflicts(
      plan,
      tied.map((order) => order.operation),
    );
  });
}

function sideConflicts(
  reading: Pick<Reading, 'from' | 'sides'>,
  orders: readonly PlannedOperation[],
): readonly DataFinding[] {
  const ordered = orders.flatMap((order) => (order.side.kind === 'sides' ? order.side.sides : []));
  if (ordered.length === 0 || reading.sides.every((side) => ordered.includes(side))) return [];
  const text = `the order says ${sortedUnique(ordered).join(' and ')}, the plan tied to it says ${reading.sides.join(' and ')}`;
  const from = sortedUnique([reading.from, ...orders.map((order) => order.name)]);
  return sortedUnique(ordered).map((hip) => ({
    kind: 'side-conflict' as const,
    hip: hip as Side,
    construct: 'planned' as const,
    text,
    from,
  }));
}

function isForOtherHip(reading: Reading, orders: readonly RequestReading[], hips: readonly Side[]): boolean {
  if (hips.length === 0) return false;
  return reading.sides.some((side) => !hips.includes(side) && !hasOpenOrder(side, orders));
}

/** An order for the operation: a plan carried by a request for implants does not vouch for itself. */
function hasOpenOrder(side: Side, orders: readonly RequestReading[]): boolean {
  return orders.some(
    ({ operation, open, forDevice }) =>
      open && !forDevice && operation.side.kind === 'sides' && operation.side.sides.includes(side),
  );
}

function strangerFindings(strangers: readonly Reading[]): readonly DataFinding[] {
  if (strangers.length === 0) return [];
  const sides = sortedUnique(strangers.flatMap((reading) => reading.sides));
  return [
    {
      kind: 'other-side-plan',
      hip: 'any',
      construct: 'planned',
      text: `planned values for the ${sides.join(' and ')} hip, which has no open order here`,
      from: sortedUnique(strangers.map((reading) => reading.from)),
    },
  ];
}

/** The only plan of an ordered hip may belong to an order that was revoked and issued again: that is said aloud. */
function outdatedFindings(
  outdated: readonly Reading[],
  kept: readonly Reading[],
  hips: readonly Side[],
): readonly DataFinding[] {
  return hips.flatMap((hip): readonly DataFinding[] => {
    const mine = outdated.filter(({ sides }) => sides.includes(hip));
    const current = kept.some(({ stage, sides }) => stage === 'planned' && sides.includes(hip));
    if (mine.length === 0 || current) return [];
    const text = 'the only plan belongs to an order that is no longer open';
    return [
      {
        kind: 'measure-unreadable',
        hip,
        construct: 'planned',
        text,
        from: sortedUnique(mine.map(({ from }) => from)),
      },
    ];
  });
}

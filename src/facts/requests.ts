import { canonicalJson } from '../base/canonical-json.js';
import { byText } from '../base/order.js';
import { nameOf, namesOf, normaliseReference } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import type { CallResources } from './call-resources.js';
import type { DataFinding, Side } from './definitions.js';
import type { SideReading } from './laterality.js';
import type { Note } from './readings.js';
import type { RecordInput } from './read-record.js';
import { readRequest } from './recognition.js';
import type { PlannedOperation, RequestOutcome, RequestReading } from './recognition.js';

/** Every hip order of the call, those at hand and those on record. */
export interface Requests {
  /** Orders being drafted, chosen or signed now. */
  readonly acted: readonly RequestReading[];
  /** Every hip order seen, those at hand first. */
  readonly all: readonly RequestReading[];
  /** Those that came together in the context of the call. */
  readonly atHand: readonly RequestReading[];
  readonly byName: ReadonlyMap<string, RequestOutcome>;
  readonly findings: readonly DataFinding[];
  readonly notes: readonly Note[];
  /** Departures from the standard that were let pass. */
  readonly leniencies: readonly string[];
}

export function readRequests(input: RecordInput, resources: CallResources): Requests {
  const reader = newReader(input);
  const isOrder = input.hook === 'order-sign' || input.hook === 'order-select';
  const atHand = isOrder ? resources.drafts : resources.visits.filter(isRequest);
  const choice = chosenOf(atHand, resources.selected, input.identity.fhirServer);
  const now = oncePerName(
    atHand.flatMap((located) => reader.read(located, isOrder, choice.chosen.has(nameOf(located)))),
  );
  const names = new Set(atHand.map(nameOf));
  const before = ['serviceRequests', 'deviceRequests']
    .flatMap((key) => resources.sets.get(key)?.resources ?? [])
    .filter((located) => !names.has(nameOf(located)))
    .flatMap((located) => reader.read(located, false, false));
  const all = [...now, ...before].map((request, index, list) =>
    withImplantSide(request, index < now.length ? now : [], list),
  );
  return {
    acted: isOrder ? all.filter(({ operation }) => choice.chosen.has(operation.name)) : [],
    all,
    atHand: now,
    byName: reader.byName,
    findings: reader.findings,
    notes: reader.notes,
    leniencies: choice.leniencies,
  };
}

/** One order that comes twice under one name is one order: what its copies say of the side is compared. */
function oncePerName(requests: readonly RequestReading[]): readonly RequestReading[] {
  const byName = new Map<string, RequestReading>();
  for (const request of [...requests].sort(byText(canonicalJson))) {
    const first = byName.get(request.operation.name);
    if (first) {
      const side = agreedSide(first.operation.side, request.operation.side);
      byName.set(first.operation.name, { ...first, operation: { ...first.operation, side } });
    } else byName.set(request.operation.name, request);
  }
  return [...byName.values()];
}

function agreedSide(a: SideReading, b: SideReading): SideReading {
  if (a.kind === 'unknown' || b.kind === 'unknown') return a.kind === 'unknown' ? b : a;
  if (canonicalJson(a) === canonicalJson(b)) return a;
  const said = [a, b].flatMap((one) => (one.kind === 'sides' ? one.sides : one.statements));
  return { kind: 'conflict', statements: [...new Set(said)].sort() };
}

function isRequest({ resource }: Located): boolean {
  return resource['resourceType'] === 'ServiceRequest' || resource['resourceType'] === 'DeviceRequest';
}

/** The drafts just chosen. A choice that names none of the drafts says nothing: then all count as chosen. */
function chosenOf(
  drafts: readonly Located[],
  selected: ReadonlySet<string> | undefined,
  fhirServer: string | undefined,
): { readonly chosen: ReadonlySet<string>; readonly leniencies: readonly string[] } {
  const names = new Set(drafts.map(nameOf));
  if (!selected) return { chosen: names, leniencies: [] };
  const wanted = new Set([...selected].map((name) => normaliseReference(name, fhirServer)));
  const chosen = new Set(
    drafts.filter((draft) => namesOf(draft, fhirServer).some((name) => wanted.has(name))).map(nameOf),
  );
  if (chosen.size > 0 || names.size === 0) return { chosen, leniencies: [] };
  return { chosen: names, leniencies: ['selections name none of the draft orders'] };
}

interface Reader {
  readonly read: (located: Located, drafted: boolean, acted: boolean) => readonly RequestReading[];
  readonly byName: ReadonlyMap<string, RequestOutcome>;
  readonly findings: readonly DataFinding[];
  readonly notes: readonly Note[];
}

function newReader(input: RecordInput): Reader {
  const context = { knowledge: input.knowledge, identity: input.identity };
  const byName = new Map<string, RequestOutcome>();
  const findings: DataFinding[] = [];
  const notes: Note[] = [];
  const read = (located: Located, drafted: boolean, acted: boolean): readonly RequestReading[] => {
    const outcome = readRequest(located, drafted, context);
    for (const name of namesOf(located, input.identity.fhirServer)) byName.set(name, outcome);
    if (outcome.kind === 'finding') {
      notes.push(outcome.note);
      // An unreadable order in the background is noted; the one at hand is worth a word.
      if (acted || outcome.finding.kind === 'other-patient') findings.push(outcome.finding);
    }
    return outcome.kind === 'request' ? [outcome.request] : [];
  };
  return { read, byName, findings, notes };
}

function withImplantSide(
  request: RequestReading,
  beside: readonly RequestReading[],
  all: readonly RequestReading[],
): RequestReading {
  if (!request.forDevice) return request;
  return { ...request, operation: { ...request.operation, ...implantSide(request.operation, beside, all) } };
}

/**
 * The side of a request for implants: its own, else that of the order it is based on, wherever that order came. Ordered
 * beside exactly one sided hip order, or with its requisition, they are meant for that hip; that is an inference, and
 * said. An order that was named and did not tell the side leaves nothing to infer.
 */
export function implantSide(
  { side, ties }: Pick<PlannedOperation, 'side' | 'ties'>,
  beside: readonly RequestReading[],
  all: readonly RequestReading[],
): Pick<PlannedOperation, 'side' | 'sideFrom'> {
  if (side.kind !== 'unknown') return { side, sideFrom: 'itself' };
  const index = indexOf(all);
  const named = [...new Set(ties.basedOn.flatMap((name) => index.byName.get(name) ?? []))];
  if (named.length > 0) return { side: onlySide(named) ?? side, sideFrom: 'its order' };
  const { group } = ties;
  const together = group === undefined ? [] : (index.byGroup.get(group) ?? []);
  return { side: onlySide(beside) ?? onlySide(together) ?? side, sideFrom: 'inherited' };
}

interface RequestIndex {
  readonly byName: ReadonlyMap<string, readonly RequestReading[]>;
  readonly byGroup: ReadonlyMap<string, readonly RequestReading[]>;
}

/** One list is asked about each of its members: it is looked through once. */
const indexes = new WeakMap<readonly RequestReading[], RequestIndex>();

function indexOf(all: readonly RequestReading[]): RequestIndex {
  const known = indexes.get(all);
  if (known) return known;
  const index = {
    byName: grouped(all, ({ operation }) => operation.names),
    byGroup: grouped(all, ({ operation }) => operation.ties.group ?? []),
  };
  indexes.set(all, index);
  return index;
}

function grouped(
  all: readonly RequestReading[],
  keysOf: (request: RequestReading) => string | readonly string[],
): ReadonlyMap<string, readonly RequestReading[]> {
  const groups = new Map<string, RequestReading[]>();
  for (const request of all) {
    for (const key of new Set([keysOf(request)].flat())) {
      const list = groups.get(key) ?? [];
      list.push(request);
      groups.set(key, list);
    }
  }
  return groups;
}

/** The orders of a list that go by a name. */
export function requestsNamed(all: readonly RequestReading[], name: string): readonly RequestReading[] {
  return indexOf(all).byName.get(name) ?? [];
}

/** The open orders for operations of a list: more than one says nothing of the side of implants beside them. */
const openOrders = new WeakMap<readonly RequestReading[], readonly RequestReading[]>();

/** The side of the only open order for an operation among these; undefined when there are more, or it states none. */
function onlySide(orders: readonly RequestReading[]): SideReading | undefined {
  const open = openOrders.get(orders) ?? orders.filter((order) => !order.forDevice && order.open);
  openOrders.set(orders, open);
  const [only, second] = open;
  if (!only || second) return undefined;
  const { side } = only.operation;
  return side.kind === 'sides' && side.sides.length === 1 ? side : undefined;
}

/** Sides of open orders, for whoever asks which hips are spoken of. */
export function orderedSides(operations: readonly PlannedOperation[]): readonly Side[] {
  return [...new Set(operations.flatMap(({ side }) => (side.kind === 'sides' ? side.sides : [])))].sort();
}

import type { Interval } from '../base/interval.js';
import type { Stage } from './definitions.js';

export type UnknownReason =
  | 'not-recorded'
  | 'set-not-read'
  | 'refused'
  | 'stale'
  | 'conflicting'
  | 'definition-unknown'
  | 'sign-unconfirmed'
  | 'side-unknown'
  | 'code-unclear'
  | 'input-missing'
  | 'spans-limit'
  | 'could-not-evaluate';

export type FactState =
  | { readonly status: 'present'; readonly value: FactValue }
  | { readonly status: 'absent' }
  | { readonly status: 'unknown'; readonly reason: UnknownReason; readonly needs: readonly string[] };

/** A quantity is an interval (equal ends when exact); everything else is what it says. */
export type FactValue =
  | { readonly kind: 'quantity'; readonly interval: Interval }
  | { readonly kind: 'code'; readonly codes: readonly string[] }
  | { readonly kind: 'flag'; readonly flag: boolean }
  | { readonly kind: 'recorded'; readonly texts: readonly string[] };

/** Where a fact came from. References, dates and units as found are provenance: they decide nothing by themselves. */
export interface Provenance {
  readonly from: readonly string[];
  /** Of something recorded several times, the first. */
  readonly date?: string;
  /** Of something recorded on several dates, the last. */
  readonly lastDate?: string;
  readonly asFound?: { readonly value: string; readonly unit?: string };
}

/** A typed, named value about the patient, one hip or one construct. */
export interface Fact {
  readonly id: string;
  readonly state: FactState;
  readonly unit?: string;
  readonly stage?: Stage;
  readonly method?: string;
  /** Named qualifiers of the value, such as `angle-definition`. */
  readonly qualifiers?: Readonly<Record<string, string | boolean>>;
  /** Half width of the band within which a measured value may err; 0 for a plan; undefined for an estimate. */
  readonly error?: number;
  /** Set when the plan leaves this component in place: the value is that of the construct in the hip. */
  readonly retained?: true;
  readonly provenance: Provenance;
  /** What the reader must know about this value: provisional diagnosis, side not stated, default used. */
  readonly remarks: readonly string[];
  /** What a site's map or default put in where the record says nothing; spoken, and making the data "assumed". */
  readonly assumptions?: readonly string[];
  /** Facts that would narrow an interval this fact was worked out over. */
  readonly narrowedBy?: readonly string[];
  /** Prefetch keys whose absence keeps this fact from being known. */
  readonly setsMissing?: readonly string[];
}

export const NO_PROVENANCE: Provenance = { from: [] };

const NO_REMARKS: readonly string[] = [];

export function unknownFact(
  id: string,
  reason: UnknownReason,
  more: Partial<Omit<Fact, 'id' | 'state'>> = {},
): Fact {
  const state: FactState = { status: 'unknown', reason, needs: [id] };
  return { id, state, provenance: NO_PROVENANCE, remarks: NO_REMARKS, ...more };
}

/** A fact that was looked for in a list wholly read, and is not there. */
export function absentFact(id: string): Fact {
  const known = absent.get(id);
  if (known) return known;
  const fact: Fact = { id, state: { status: 'absent' }, provenance: NO_PROVENANCE, remarks: NO_REMARKS };
  absent.set(id, fact);
  return fact;
}

/** Most diagnoses of most patients: one value for each fact of the rulebook, made once. */
const absent = new Map<string, Fact>();

/** The number of an exactly known quantity; undefined for anything else. */
export function exactNumber(fact: Fact | undefined): number | undefined {
  const interval = quantityOf(fact);
  return interval && interval.low === interval.high ? interval.low : undefined;
}

/** The interval of a present quantity. */
export function quantityOf(fact: Fact | undefined): Interval | undefined {
  if (fact?.state.status !== 'present' || fact.state.value.kind !== 'quantity') return undefined;
  return fact.state.value.interval;
}

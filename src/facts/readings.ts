import type { Span } from '../base/dates.js';
import type { DataFinding, MeasureDefinition, Side, Stage } from './definitions.js';
import type { FactValue } from './fact.js';
import type { Ties } from './recognition.js';

/** One usable statement of a measure, from one resource. */
export interface Reading {
  readonly definition: MeasureDefinition;
  /** Undefined for a measure of the patient that needs no stage. */
  readonly stage: Stage | undefined;
  /** The hips it speaks of; empty for a measure of the patient. */
  readonly sides: readonly Side[];
  readonly value: FactValue;
  readonly method: string | undefined;
  readonly qualifiers: Readonly<Record<string, string | boolean>>;
  readonly date: string | undefined;
  readonly span: Span | undefined;
  readonly from: string;
  readonly asFound: { readonly value: string; readonly unit?: string };
  readonly remarks: readonly string[];
  /** What the site's map supplied, in the rulebook's words; left out when nothing. */
  readonly assumptions?: readonly string[];
  /** The orders, requisition and encounter it says it belongs to. */
  readonly ties: Ties;
  /** The side was taken from the order beside it, so it can't contradict that order. */
  readonly sideInferred: boolean;
}

/** A resource, or part of one, that was not used, and why: shown to the reader, never passed over in silence. */
export interface Note {
  readonly from: string;
  readonly why: string;
  /** The same without what the resource itself says, where `why` repeats it: all of it that a record may hold. */
  readonly kept?: string;
}

/** A measure that was recorded but refused, so that its fact is unknown for a stated reason. */
export interface Refusal {
  readonly measure: string;
  readonly stage: Stage | undefined;
  readonly sides: readonly Side[];
}

/** What reading one resource brought. */
export interface Reads {
  readonly readings: readonly Reading[];
  readonly refusals: readonly Refusal[];
  readonly findings: readonly DataFinding[];
  readonly notes: readonly Note[];
}

export const NOTHING_READ: Reads = { readings: [], refusals: [], findings: [], notes: [] };

/** Joins what was read from many resources. */
export function joinReads(all: readonly Reads[]): Reads {
  return {
    readings: all.flatMap((reads) => reads.readings),
    refusals: all.flatMap((reads) => reads.refusals),
    findings: all.flatMap((reads) => reads.findings),
    notes: all.flatMap((reads) => reads.notes),
  };
}

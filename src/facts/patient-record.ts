import type { DataSet } from '../fhir/bundle.js';
import type { ConstructKind, DataFinding, Hip } from './definitions.js';
import type { Fact } from './fact.js';
import type { PlannedOperation } from './recognition.js';
import type { Note } from './readings.js';

/** Everything read for one hip and construct, by fact id. */
export interface HipRecord {
  readonly hip: Hip;
  readonly construct: ConstructKind;
  readonly facts: ReadonlyMap<string, Fact>;
  readonly findings: readonly DataFinding[];
}

/** The patient as read: recognised operations, facts per hip and construct, and what could not be used. */
export interface PatientRecord {
  readonly recognised: 'yes' | 'no' | 'unknown';
  readonly operations: readonly PlannedOperation[];
  readonly hips: readonly HipRecord[];
  readonly notes: readonly Note[];
  /** How each published prefetch key arrived. */
  readonly sets: Readonly<
    Record<string, { readonly status: DataSet['status']; readonly why?: string; readonly count: number }>
  >;
  /** References that recognition could not follow. */
  readonly unresolved: readonly string[];
}

import type { DataSet } from '../fhir/bundle.js';
import type { Silenced } from './acute-gate.js';
import type { Located } from '../fhir/references.js';
import type { ConstructKind, DataFinding, Hip } from './definitions.js';
import type { Fact } from './fact.js';
import type { Implanted } from './implanted.js';
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
  /** Replacements in place, and how that is known; looked for at the chart only. */
  readonly implanted: readonly Implanted[];
  readonly hips: readonly HipRecord[];
  readonly notes: readonly Note[];
  /** How each published prefetch key arrived. */
  readonly sets: Readonly<
    Record<string, { readonly status: DataSet['status']; readonly why?: string; readonly count: number }>
  >;
  /** References that recognition could not follow. */
  readonly unresolved: readonly string[];
  /** Hips about which nothing is said now, and why. */
  readonly silenced: readonly Silenced[];
  /** Departures from the standard that were let pass while reading. */
  readonly leniencies: readonly string[];
  /** The role resources of whoever asks. */
  readonly users: readonly Located[];
  /** Every resource of the patient that came with the call or was read for it. */
  readonly resources: readonly Located[];
}

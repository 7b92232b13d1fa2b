import type { SystemAliases } from '../fhir/codings.js';
import type { FactDefinition } from './definitions.js';
import type { LateralityTables } from './laterality.js';
import type { ValueSetIndex } from './value-set-index.js';

/** The kind of operation an order or appointment asks for. */
export type OperationKind = 'primary' | 'revision' | 'conversion' | 'unspecified' | 'other-hip' | 'implant';

/**
 * What a code says in the history of operations. `removal` with `replacement` on the same side and day is a revision;
 * a `native-reduction` code is also met where a prosthesis was reduced.
 */
export const HISTORY_ROLES = [
  'removal',
  'replacement',
  'closed-reduction',
  'native-reduction',
  'hip-operation',
] as const;
export type HistoryRole = (typeof HISTORY_ROLES)[number];

/** Everything the rulebook knows about reading a record; plain data, so that reading stays a pure function. */
export interface FactKnowledge {
  readonly definitions: readonly FactDefinition[];
  readonly valueSets: ValueSetIndex;
  readonly laterality: LateralityTables;
  readonly aliases: SystemAliases;
  readonly systems: {
    readonly measure: string;
    readonly measureValue: string;
    /** Our own codes of diagnoses, where no standard code was read. */
    readonly diagnosis: string;
    readonly stage: string;
    readonly group: string;
  };
  /** Value set → kind of operation, for requests and procedures. */
  readonly operations: ReadonlyMap<string, OperationKind>;
  /** Value set → kind, codes accepted on appointments only. */
  readonly appointmentOperations: ReadonlyMap<string, OperationKind>;
  /** Value set → its part in the history of operations. */
  readonly historyOperations: ReadonlyMap<string, HistoryRole>;
  /** Measuring methods, best first; a method not listed counts as the last. */
  readonly methodOrder: readonly string[];
  /** Methods that show which way a cup faces; an AP film shows only how much. */
  readonly methodsShowingSign: ReadonlySet<string>;
  /** What a reader is told about a value that carries a doubt. */
  readonly remarks: Remarks;
  /** Qualifying components and the values each may have. */
  readonly qualifiers: ReadonlyMap<string, readonly string[] | 'boolean'>;
  /** Facts that only a replaced hip can have. */
  readonly implantedBy: ReadonlySet<string>;
  /** Half width of the measuring band by measure and method, in the measure's unit. */
  readonly measuringErrors: ReadonlyMap<string, MeasuringError>;
}

/** The words for each doubt a fact may carry; a card prints them as they are. */
export interface Remarks {
  readonly preliminary: string;
  readonly planSentAsFinal: string;
  readonly patientFromQuery: string;
  readonly sideInferred: string;
  readonly retained: string;
  readonly angleDefinitionNotStated: string;
  readonly signNotConfirmed: string;
  readonly takenAsAnteverted: string;
  readonly referencePlaneNotStated: string;
  readonly singleArticulationAssumed: string;
  readonly versionReferenceNotStated: string;
  readonly changeReadFromSpinopelvicTilt: string;
  readonly changeReadFromAppTilt: string;
  readonly pelvicAnglesDiffer: string;
  /** Put after a diagnosis's name and a colon. */
  readonly diagnosisNotConfirmed: string;
  readonly sideNotStated: string;
  /** Put after a diagnosis's name wherever that is shown. */
  readonly unconfirmed: string;
}

export interface MeasuringError {
  readonly byMethod: Readonly<Record<string, number>>;
  /** Used when the method is missing. */
  readonly otherwise: number;
  /** Methods without a known error: they never carry a warning. */
  readonly unknown: readonly string[];
}

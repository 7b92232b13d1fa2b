/** The operated side. A bilateral order is two hips. */
export type Side = 'left' | 'right';
/** The hip an evaluation is about; `unknown` when no statement of its side was found. */
export type Hip = Side | 'unknown';
export const STAGES = ['native', 'planned', 'intraoperative', 'postoperative'] as const;
export type Stage = (typeof STAGES)[number];
/** The replacement that is planned, or the one in the hip; never mixed. */
export type ConstructKind = 'planned' | 'in-place';
export const CUP_DEFINITIONS = ['radiographic', 'operative', 'anatomic'] as const;
export type CupDefinition = (typeof CUP_DEFINITIONS)[number];

/** A component that a revision exchanges or leaves in place. */
export type Part = 'cup' | 'liner' | 'head' | 'stem';

/** A number or code about a hip or a patient, carried by an Observation of our own code system. */
export interface MeasureDefinition {
  readonly kind: 'measure';
  readonly id: string;
  readonly title: string;
  readonly scope: 'patient' | 'hip';
  readonly stages: readonly Stage[];
  readonly valueType: 'quantity' | 'integer' | 'code' | 'boolean';
  /** UCUM; present for quantities and integers. */
  readonly unit?: string;
  readonly values?: readonly string[];
  readonly components: readonly string[];
  readonly repeats: boolean;
  /** Besides Observation and questionnaire: a request's parameter (`order`), an implant's property (`device`). */
  readonly carriers: readonly ('order' | 'device')[];
  /** Components whose geometry it is: all of them retained, it stays what it was. */
  readonly partOf?: readonly Part[];
  /** Outside these limits a value is refused, by name. In the unit above. */
  readonly plausible?: { readonly low: number; readonly high: number; readonly parameter: string };
  /** Two values of one construct and stage further apart than this conflict. In the unit above. */
  readonly conflict?: { readonly beyond: number; readonly parameter: string };
}

/** A diagnosis or an earlier operation: present when a usable Condition or Procedure carries a code that means it. */
export interface ConditionDefinition {
  readonly kind: 'condition';
  readonly id: string;
  readonly title: string;
  readonly scope: 'patient' | 'hip';
  /** `current`: only while active; `lifetime`: once is enough, also when resolved. */
  readonly status: 'current' | 'lifetime';
  /** Codes that mean it in a Condition. */
  readonly valueSet?: string;
  /** Codes that mean it in a completed Procedure; only for what once is enough. */
  readonly procedureValueSet?: string;
  /** Codes without a place, which mean it only with a hip as body site; otherwise they are unclear. */
  readonly sitedValueSet?: string;
  /** Codes too vague to mean this: they turn "not recorded" into "cannot tell". */
  readonly unclearValueSet?: string;
  /** ICD-10-CM injury codes: the seventh characters that mean this (A initial … S sequela). */
  readonly seventhCharacters?: readonly string[];
}

/** A value of the ordinary record, by LOINC. */
export interface LaboratoryDefinition {
  readonly kind: 'observation';
  readonly id: string;
  readonly title: string;
  readonly scope: 'patient';
  readonly valueSet: string;
  readonly unit: string;
  readonly plausible?: { readonly low: number; readonly high: number; readonly parameter: string };
  /** A value older than this tells nothing of today. */
  readonly staleAfter?: { readonly months: number; readonly parameter: string };
}

/** What the Patient resource itself says of a person. */
export interface PatientDefinition {
  readonly kind: 'patient';
  readonly id: string;
  readonly title: string;
  readonly scope: 'patient';
  readonly of: 'age' | 'sex';
  readonly unit?: string;
}

/** The time from the replacement of a hip to its first dislocation on record. */
export interface FirstDislocationDefinition {
  readonly kind: 'first-dislocation';
  readonly id: string;
  readonly title: string;
  readonly scope: 'hip';
  /** Diagnoses that say it came out; dated closed reductions count besides. */
  readonly of: readonly string[];
  readonly unit: string;
}

/** What an order or appointment says about the operation. */
export interface OperationDefinition {
  readonly kind: 'operation';
  readonly id: string;
  readonly title: string;
  readonly scope: 'hip';
  readonly values: readonly string[];
}

/** A fact worked out from others by the engine: a definition restated, the head that really bears. */
export interface DerivedDefinition {
  readonly kind: 'derived';
  readonly id: string;
  readonly title: string;
  readonly scope: 'hip';
  readonly valueType: 'quantity' | 'code';
  readonly unit?: string;
  readonly values?: readonly string[];
}

/** Something wrong with the record itself, collected while reading it. */
export interface FindingDefinition {
  readonly kind: 'finding';
  readonly id: string;
  readonly title: string;
  readonly scope: 'hip';
  readonly finds: readonly DataFindingKind[];
  /** Prefetch sets it would stand in. */
  readonly sets: readonly string[];
}

/** Total hip replacements of this hip that were done, by kind. */
export interface HistoryDefinition {
  readonly kind: 'history';
  readonly id: string;
  readonly title: string;
  readonly scope: 'hip';
  readonly arthroplasties: readonly ('primary' | 'revision' | 'conversion' | 'unspecified')[];
}

/** How often something was done to this hip: closed reductions by their days, revisions as far as they are on record. */
export interface EpisodesDefinition {
  readonly kind: 'episodes';
  readonly id: string;
  readonly title: string;
  readonly scope: 'hip';
  readonly of: 'closed-reductions' | 'revisions';
  readonly valueType: 'integer';
  readonly unit: string;
}

/** What was planned for the operation that the construct in place comes from: the plan behind a measured value. */
export interface CarriedOutDefinition {
  readonly kind: 'carried-out';
  readonly id: string;
  readonly title: string;
  readonly scope: 'hip';
  /** The measure that was planned. */
  readonly of: string;
  readonly unit: string;
}

/** Whether anything of a sort was recorded for this hip at all. */
export interface PresenceDefinition {
  readonly kind: 'presence';
  readonly id: string;
  readonly title: string;
  readonly scope: 'hip';
  readonly of: 'measures';
  readonly sets: readonly string[];
}

/** Codes on record that leave one diagnosis open: a fusion of some joint, an irradiation of some place. */
export interface UnclearDefinition {
  readonly kind: 'unclear';
  readonly id: string;
  readonly title: string;
  readonly scope: 'patient' | 'hip';
  /** The diagnosis they may mean. */
  readonly of: string;
}

/** Something since which a value measured before it is another one: a diagnosis or operation, or any replaced hip. */
export type Changing = { readonly condition: string } | { readonly replacement: string };

/** Measures that change with time, and of those recorded the ones too old to be relied on. */
export interface AgedDefinition {
  readonly kind: 'aged';
  readonly id: string;
  readonly title: string;
  readonly scope: 'hip';
  /** What is told first comes first. */
  readonly of: readonly string[];
  readonly olderThan: { readonly months: number; readonly parameter: string };
  readonly changedBy: readonly Changing[];
}

/** Diagnoses that were recorded of a hip, or of its owner, when the hip had been replaced by then. */
export interface AfterReplacementDefinition {
  readonly kind: 'after-replacement';
  readonly id: string;
  readonly title: string;
  readonly scope: 'hip';
  readonly of: readonly string[];
  /** Only what was not on record before the replacement already. */
  readonly newOnly?: boolean;
}

export const REPLACEMENT_KINDS = ['total', 'partial', 'partial-with-cup', 'resurfacing', 'unstated'] as const;

/** What sort of replacement is in place, as far as operations, implants and measures state it. */
export interface ReplacementKindDefinition {
  readonly kind: 'replacement-kind';
  readonly id: string;
  readonly title: string;
  readonly scope: 'hip';
  readonly values: readonly (typeof REPLACEMENT_KINDS)[number][];
  /** Value sets of implants that only a total replacement has. */
  readonly cupImplants: readonly string[];
}

export const VERSION_SIGNS = ['shown', 'not-shown'] as const;

/** Whether the way a cup's anteversion was read shows to which side the cup faces, or only how far. */
export interface VersionSignDefinition {
  readonly kind: 'version-sign';
  readonly id: string;
  readonly title: string;
  readonly scope: 'hip';
  readonly of: string;
  readonly values: readonly (typeof VERSION_SIGNS)[number][];
}

export type FactDefinition =
  | MeasureDefinition
  | ConditionDefinition
  | LaboratoryDefinition
  | PatientDefinition
  | FirstDislocationDefinition
  | OperationDefinition
  | DerivedDefinition
  | FindingDefinition
  | HistoryDefinition
  | EpisodesDefinition
  | CarriedOutDefinition
  | PresenceDefinition
  | UnclearDefinition
  | AgedDefinition
  | AfterReplacementDefinition
  | ReplacementKindDefinition
  | VersionSignDefinition;

export const DATA_FINDING_KINDS = [
  'implausible',
  'wrong-dimension',
  'conflicting',
  'side-conflict',
  'side-contradiction',
  'other-side-plan',
  'other-patient',
  'measure-unreadable',
  'order-unreadable',
  'order-side-missing',
] as const;
export type DataFindingKind = (typeof DATA_FINDING_KINDS)[number];

/** One thing wrong with the record, for the reader: what was expected, what was found, in which resource. */
export interface DataFinding {
  readonly kind: DataFindingKind;
  readonly hip: Hip | 'any';
  readonly construct: ConstructKind | 'any';
  /** The measure concerned, when there is one. */
  readonly measure?: string;
  readonly text: string;
  readonly from: readonly string[];
}

/** The tables of the store, in types that every database has. */
export interface Tables {
  readonly migrations: { readonly number: number; readonly name: string };
  readonly decisions: DecisionRow;
  readonly cards: CardRow;
  readonly firings: FiringRow;
  readonly unmapped: UnmappedRow;
  readonly feedback: FeedbackRow;
}

/** One evaluation: the whole record as JSON, and beside it what is searched for. */
interface DecisionRow {
  readonly id: string;
  readonly key: string;
  readonly at: string;
  readonly iss: string;
  readonly service: string;
  readonly patient: string;
  readonly record: string;
}

interface CardRow {
  readonly decision: string;
  readonly uuid: string;
  readonly rule: string;
  readonly acknowledgement: string | null;
}

/** An outcome that fired; the others stand in the record only, being a hundred times as many. */
interface FiringRow {
  readonly decision: string;
  readonly rule: string;
  readonly hip: string;
  readonly construct: string;
  /** 1 or 0. */
  readonly shown: number;
}

interface UnmappedRow {
  readonly decision: string;
  readonly resource_type: string;
  readonly element: string;
  readonly system: string | null;
  readonly code: string;
  readonly count: number;
}

interface FeedbackRow {
  /** Of everything but the time of receipt: what makes a repeated answer the same answer. */
  readonly digest: string;
  readonly card: string;
  readonly iss: string;
  readonly service: string;
  readonly outcome: string;
  readonly at: string;
  /** A sorted list as JSON. */
  readonly accepted_suggestions: string;
  readonly reason_system: string | null;
  readonly reason_code: string | null;
  /** Sealed. */
  readonly comment: string | null;
  readonly received_at: string;
}

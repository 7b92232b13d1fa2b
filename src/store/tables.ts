/** The tables of the store, in types that every database has. */
export interface Tables {
  readonly migrations: { readonly number: number; readonly name: string };
  readonly decisions: DecisionRow;
  readonly cards: CardRow;
  readonly firings: FiringRow;
  readonly unmapped: UnmappedRow;
  readonly feedback: FeedbackRow;
  readonly migration_floors: { readonly number: number; readonly floor: number };
  readonly chain: ChainRow;
  readonly data_keys: DataKeyRow;
  readonly contents: ContentRow;
  readonly tokens: TokenRow;
  readonly differences: DifferenceRow;
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
  /** Sealed, as the first version kept them (`v1.…`), or `v2` where the text is among the contents. */
  readonly comment: string | null;
  readonly received_at: string;
}

/** One link: what was written or removed, hashed together with the link before. */
interface ChainRow {
  readonly writer: string;
  readonly seq: number;
  readonly kind: string;
  readonly of: string;
  readonly digest: string;
  readonly moment: string;
  readonly previous: string;
  readonly hash: string;
}

/** The key under which the contents of one patient are sealed, itself sealed. */
interface DataKeyRow {
  readonly id: string;
  /** The pseudonym; null for the comment on a card of which no patient is known. */
  readonly patient: string | null;
  /** Names the content key it is wrapped under. */
  readonly under: string;
  readonly wrapped: string;
}

/** Something sealed that is kept for a limited time. */
interface ContentRow {
  readonly kind: 'decision' | 'comment';
  /** The evaluation, or the digest of the answer. */
  readonly of: string;
  readonly key: string;
  /** When it is removed, as an ISO 8601 instant in UTC. */
  readonly until: string;
  readonly sealed: string;
}

/** A client's token that was used, known by its digest only. */
interface TokenRow {
  readonly digest: string;
  /** Milliseconds since 1970. */
  readonly until: number;
}

interface DifferenceRow {
  readonly id: string;
  readonly decision: string;
  readonly at: string;
  readonly candidate_hash: string;
  readonly kind: string;
  readonly hip: string | null;
  readonly construct: string | null;
  readonly rule: string | null;
  readonly was: string | null;
  readonly would: string | null;
}

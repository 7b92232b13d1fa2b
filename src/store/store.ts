import type { ConstructKind, Hip } from '../facts/definitions.js';
import type { Outcome } from '../engine/evaluate.js';
import type { Indicator } from '../render/card-types.js';

/**
 * What is kept of calls and of the answers clinicians gave to cards. Patient and user stand in it as pseudonyms; it is
 * health data all the same.
 */
export interface Store {
  /** Keeps one evaluation; a record whose id is already kept changes nothing. Resolves after the durable commit. */
  readonly saveDecision: (record: DecisionRecord) => Promise<void>;
  /**
   * Keeps answers to cards, known or not; an answer that is already kept changes nothing. Resolves after the durable
   * commit of all of them. Rejects when one could not be kept: others of the same call may then be kept, and sending
   * all of them again is safe.
   */
  readonly saveFeedback: (items: readonly FeedbackItem[]) => Promise<void>;
  /** One kept evaluation. */
  readonly decision: (id: string) => Promise<DecisionRecord | undefined>;
  /** The answers given to one card, oldest first. */
  readonly answersTo: (card: string) => Promise<readonly KeptAnswer[]>;
  /**
   * The acknowledgement hashes of this patient's cards that were accepted or overridden, sorted. When one card id was
   * given out with two hashes, nobody knows which of them was answered, so neither is among them.
   */
  readonly acknowledgedBy: (patient: string) => Promise<readonly string[]>;
  /** What became of each rule's findings and cards, by rule id. */
  readonly countsByRule: () => Promise<readonly RuleCounts[]>;
  /** How often each coding was met that nothing here knows. */
  readonly unmappedTotals: () => Promise<readonly UnmappedCoding[]>;
  /** Commits what is still waiting, then lets go of the database. */
  readonly close: () => Promise<void>;
}

/** One evaluation as it is kept. */
export interface DecisionRecord {
  /** The id of the evaluation. */
  readonly id: string;
  /** The idempotence key: canonical JSON of client, service, hook and hook instance. */
  readonly key: string;
  /** When it was evaluated, as an ISO 8601 instant in UTC. */
  readonly at: string;
  /** The authenticated client; `-` where calls are not authenticated. */
  readonly iss: string;
  readonly service: string;
  readonly hook: string;
  readonly hookInstance: string;
  /** Pseudonyms. */
  readonly patient: string;
  readonly user: string;
  readonly engine: string;
  readonly rulebook: { readonly version: string; readonly hash: string };
  readonly site?: { readonly id: string; readonly version: string; readonly hash: string };
  readonly recognised: string;
  readonly outcomes: readonly KeptOutcome[];
  readonly cards: readonly KeptCard[];
  /** How each set of resources arrived. */
  readonly sets: readonly KeptSet[];
  /** Makes the digests of this record's inputs unlike those of any other record. */
  readonly salt: string;
  readonly inputs: readonly KeptInput[];
  readonly unmapped: readonly UnmappedCoding[];
  readonly leniencies: readonly string[];
}

/** What one rule said of one construct of one hip, and whether anybody was shown it. */
export interface KeptOutcome {
  readonly hip: Hip;
  readonly construct: ConstructKind;
  readonly rule: string;
  readonly ruleVersion: string;
  readonly outcome: Outcome;
  readonly shown: boolean;
}

export interface KeptCard {
  readonly uuid: string;
  readonly rule: string;
  /** `both` where one card speaks of both hips, `any` where it speaks of none. */
  readonly hip: string;
  readonly construct: string;
  readonly indicator: Indicator;
  /** What stays quiet once the card was answered; left out for a card that always repeats. */
  readonly acknowledgement?: string;
}

export interface KeptSet {
  readonly key: string;
  readonly status: string;
  readonly count: number;
  readonly why?: string;
}

/** One resource that was read: which one is known only to whoever has the resource and the key. */
export interface KeptInput {
  readonly digest: string;
  readonly type: string;
  readonly versionId?: string;
  readonly lastUpdated?: string;
  readonly used: boolean;
  readonly why?: string;
}

/** A coding nothing here knows; never its text. */
export interface UnmappedCoding {
  readonly resourceType: string;
  readonly element: string;
  readonly system?: string;
  readonly code: string;
  readonly count: number;
}

/** A clinician's answer to one card. */
export interface FeedbackItem {
  readonly card: string;
  readonly outcome: 'accepted' | 'overridden';
  /** When the clinician acted, as an ISO 8601 instant in UTC. */
  readonly at: string;
  /** Ids of the suggestions taken; their order means nothing. */
  readonly acceptedSuggestions: readonly string[];
  readonly reason?: { readonly system?: string; readonly code: string };
  /** Free text, which may tell of a patient: kept sealed, never logged. */
  readonly comment?: string;
  readonly iss: string;
  readonly service: string;
  readonly receivedAt: string;
}

/** An answer as it is kept. */
export interface KeptAnswer extends FeedbackItem {
  /** There is a comment, sealed under a key this service does not have. */
  readonly commentUnreadable?: true;
}

/**
 * What became of one rule. Findings are counted once for a call, hip and construct, cards once for a card id, so that a
 * repeated call counts once. No answer is not agreement: it is counted apart.
 */
export interface RuleCounts {
  readonly rule: string;
  /** Findings of the rule, and those of them that were never shown. */
  readonly fired: number;
  readonly notShown: number;
  /** Cards shown, and those of them that were answered and not answered. */
  readonly shown: number;
  readonly answered: number;
  readonly silent: number;
  /** Cards accepted and overridden; a card answered both ways is in both. */
  readonly accepted: number;
  readonly overridden: number;
}

import type { ConstructKind, Hip } from '../facts/definitions.js';
import type { Outcome } from '../engine/evaluate.js';
import type { Indicator } from '../render/card-types.js';
import type { ChainBreak, Head } from './chain-entry.js';
import type { ContentToKeep, DecisionContent } from './decision-content.js';
import type { Difference } from './difference.js';

/**
 * What is kept of calls and of the answers clinicians gave to cards. Patient and user stand in it as pseudonyms; it is
 * health data all the same.
 */
export interface Store {
  /**
   * Keeps one evaluation, and sealed beside it for a limited time what it was made from; a record whose id is already
   * kept changes nothing. Resolves after the durable commit.
   */
  readonly saveDecision: (record: DecisionRecord, content?: ContentToKeep) => Promise<void>;
  /**
   * Keeps answers to cards, known or not; an answer that is already kept changes nothing. Resolves after the durable
   * commit of all of them. Rejects when one could not be kept: others of the same call may then be kept, and sending
   * all of them again is safe.
   */
  readonly saveFeedback: (items: readonly FeedbackItem[]) => Promise<void>;
  /** One kept evaluation. */
  readonly decision: (id: string) => Promise<DecisionRecord | undefined>;
  /** What one evaluation was made from; undefined when it was not kept, is past its time, erased or sealed under another key. */
  readonly content: (id: string) => Promise<DecisionContent | undefined>;
  /** Kept evaluations in the order of their times. */
  readonly decisions: (selection?: Selection) => AsyncIterable<DecisionRecord>;
  /** Kept answers in the order in which they were received. */
  readonly answers: (selection?: Selection) => AsyncIterable<ExportedAnswer>;
  /** The answers given to one card, oldest first. */
  readonly answersTo: (card: string) => Promise<readonly KeptAnswer[]>;
  /** The rule behind each of these cards, where the card is known. */
  readonly rulesOfCards: (cards: readonly string[]) => Promise<ReadonlyMap<string, string>>;
  /**
   * The acknowledgement hashes of this patient's cards that were accepted or overridden, sorted. When one card id was
   * given out with two hashes, nobody knows which of them was answered, so neither is among them.
   */
  readonly acknowledgedBy: (patient: string) => Promise<readonly string[]>;
  /** What became of each rule's findings and cards, by rule id. */
  readonly countsByRule: () => Promise<readonly RuleCounts[]>;
  /** How often each coding was met that nothing here knows. */
  readonly unmappedTotals: () => Promise<readonly UnmappedCoding[]>;
  /** Keeps what a candidate rulebook would have done otherwise. */
  readonly saveDifference: (difference: Difference) => Promise<void>;
  /** What candidates would have done otherwise, in the order of their times. */
  readonly differences: () => AsyncIterable<Difference>;
  /**
   * Remembers a token of a client until it has ended; false when it was seen before, in whichever process on this
   * database. Resolves after the durable commit.
   */
  readonly rememberToken: (iss: string, jti: string, untilMs: number) => Promise<boolean>;
  /** Destroys the key of a patient's contents and comments, and what was sealed under it; records stay, as pseudonyms. */
  readonly forget: (patient: string) => Promise<Forgotten>;
  /** Removes what is past its time: contents, comments, remembered tokens, and records where they have one. */
  readonly prune: (now: Date) => Promise<Pruned>;
  /** Follows every chain and compares it with what it covers, and with heads written down before. */
  readonly verify: (heads?: readonly Head[]) => Promise<Verification>;
  /** Where each writer's chain ends: written down elsewhere, they show when an end was cut off. */
  readonly heads: () => Promise<readonly Head[]>;
  /** Proves that the database answers and takes writes; rejects when it does not. */
  readonly ping: () => Promise<void>;
  /** Commits what is still waiting, then lets go of the database. */
  readonly close: () => Promise<void>;
}

/** What a running service asks of its store. */
export type ServiceStore = Pick<
  Store,
  | 'saveDecision'
  | 'saveFeedback'
  | 'saveDifference'
  | 'acknowledgedBy'
  | 'rulesOfCards'
  | 'rememberToken'
  | 'prune'
  | 'ping'
  | 'close'
>;

/** Which records: from one instant (included) to another (left out), of one client. */
export interface Selection {
  readonly from?: string;
  readonly to?: string;
  readonly iss?: string;
}

/** An answer beside what it was an answer to, where that is kept. */
export interface ExportedAnswer extends KeptAnswer {
  readonly shown?: {
    readonly decision: string;
    readonly rule: string;
    readonly ruleVersion?: string;
    readonly indicator: Indicator;
    readonly hook: string;
    readonly user: string;
  };
}

export interface Forgotten {
  /** Contents and comments that were removed. */
  readonly contents: number;
  /** Whether there was a key to destroy. */
  readonly hadKey: boolean;
  /** Whether nothing of it is left in the database's files; those who share the database may delay that. */
  readonly wiped: boolean;
}

export interface Pruned {
  readonly contents: number;
  /** Data keys under which nothing was sealed any more. */
  readonly keys: number;
  readonly decisions: number;
  readonly answers: number;
  readonly differences: number;
  readonly tokens: number;
}

export interface Verification {
  readonly entries: number;
  readonly writers: number;
  /** The first breaks found, in order; `more` when there are others. */
  readonly breaks: readonly ChainBreak[];
  readonly more: boolean;
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
  /** The tenant of that client, where it speaks for several. */
  readonly tenant?: string;
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
  /** The state of the service or of the installation kept everything quiet. */
  readonly silent?: true;
  /** The cards that were kept quiet with it: how many there would have been. */
  readonly withheld?: readonly KeptCard[];
  /** Limits that were the installation's own, beside those of the rulebook. */
  readonly parameters?: readonly KeptLimit[];
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

export interface KeptLimit {
  readonly id: string;
  readonly value: number;
  readonly unit: string;
  readonly rulebook: number;
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
  /** There was a comment: past its time, erased, or sealed under a key this service does not have. */
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

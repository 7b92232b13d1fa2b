import type { Hook } from '../../advice/index.js';
import type { Outcome } from '../../engine/evaluate.js';
import type { Indicator } from '../../render/card-types.js';

/** What `trial` and a run over a cohort find, as plain JSON; the HTML reports are readers of it. */

/** Which knowledge was used, and when it is said to have been. */
export interface ReportAbout {
  readonly rulebook: { readonly version: string; readonly status: string; readonly hash: string };
  readonly engine: string;
  readonly site?: { readonly id: string; readonly version: string; readonly hash: string };
  /** The time the report was made for, an ISO 8601 instant: an input, so that the same input gives the same bytes. */
  readonly at: string;
  /** What was run over, in words: a folder, a file, a synthetic population with its seed. */
  readonly over: string;
}

/** How often each rule had each outcome: once for every hip, construct and hook evaluated. Every rule has a row. */
export interface CoverageMatrix {
  readonly rows: readonly CoverageRow[];
}

export interface CoverageRow {
  readonly rule: string;
  readonly title: string;
  readonly indicator: Indicator;
  readonly outcomes: Readonly<Record<Outcome, number>>;
  /** For test patients: who had each outcome first, so that a reader finds an example. */
  readonly examples?: Readonly<Partial<Record<Outcome, string>>>;
}

/** A place beside a limit, as a comparison sees it. */
export type EdgeKind = 'just-below' | 'at' | 'just-above' | 'clearly-below' | 'clearly-above';

/** One side of a limit, and the test patients whose value lies there and decides the comparison. */
export interface ThresholdEdge {
  readonly edge: EdgeKind;
  readonly covered: boolean;
  readonly patients: readonly string[];
}

/** One comparison with a limit in a rule. */
export interface ThresholdCoverage {
  readonly rule: string;
  /** Where the comparison stands in the rule: `when.any[0]`. */
  readonly path: string;
  readonly fact: string;
  readonly operator: string;
  readonly limit: number;
  readonly unit: string;
  readonly parameter?: string;
  readonly edges: readonly ThresholdEdge[];
}

/** A card a test patient should have, or has. */
export interface NamedCard {
  readonly rule: string;
  readonly hip: string;
  readonly indicator: string;
}

/** Where an explanation tree says something else than it should. */
export interface TreeDifference {
  readonly rule: string;
  readonly hip: string;
  readonly construct: string;
  /** Where in the tree, such as `when.any[0]`; empty for the outcome itself. */
  readonly path: string;
  readonly expected: string;
  readonly found: string;
}

export interface TrialFailure {
  readonly patient: string;
  readonly hook: Hook;
  /** What the patient teaches, from its expectation. */
  readonly teaches: string;
  readonly missing: readonly NamedCard[];
  readonly unexpected: readonly NamedCard[];
  readonly differences: readonly TreeDifference[];
  /** Set when there was no answer at all. */
  readonly why?: string;
}

/** What test patients show of a rulebook. */
export interface TrialResult {
  readonly kind: 'trial';
  readonly about: ReportAbout;
  readonly patients: number;
  readonly passed: number;
  readonly failures: readonly TrialFailure[];
  readonly coverage: CoverageMatrix;
  readonly thresholds: readonly ThresholdCoverage[];
}

/** What one hook answered to all patients of a cohort. */
export interface HookBurden {
  readonly hook: Hook;
  /** Calls that were made: a patient with nothing to book or to sign makes none. */
  readonly calls: number;
  /** Index is the number of cards, value the number of calls that had so many. */
  readonly callsByCards: readonly number[];
  readonly callsWithWarning: number;
  readonly cards: Readonly<Record<Indicator, number>>;
  readonly cardsByRule: readonly RuleCards[];
}

export interface RuleCards {
  readonly rule: string;
  readonly title: string;
  readonly indicator: Indicator;
  readonly cards: number;
}

/** A fact that was asked for and not known. */
export interface MissingFact {
  readonly fact: string;
  readonly title: string;
  /** Outcomes "cannot tell" that name it: knowing it would settle or help to settle them. */
  readonly outcomes: number;
  /** Those of them that name nothing else: knowing it alone would settle them. */
  readonly alone: number;
  readonly patients: number;
  readonly rules: readonly string[];
}

/** A member of the cohort that could not be evaluated. */
export interface Unreadable {
  readonly where: string;
  readonly why: string;
}

/** What a rulebook says about a set of patients. No member holds anything about one patient but where it stood. */
export interface CohortResult {
  readonly kind: 'cohort';
  readonly about: ReportAbout;
  readonly patients: number;
  /** Patients none of whose calls was about a hip replacement. */
  readonly withoutHip: number;
  readonly unreadable: readonly Unreadable[];
  readonly coverage: CoverageMatrix;
  readonly burden: readonly HookBurden[];
  readonly missing: readonly MissingFact[];
}

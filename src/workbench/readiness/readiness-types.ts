import type { Hook } from '../../advice/index.js';
import type { Outcome } from '../../engine/evaluate.js';
import type { Indicator } from '../../render/card-types.js';
import type { Governance } from '../../rulebook/governance-report.js';
import type { Hazard } from '../../rulebook/hazard-schema.js';
import type { MissingFact, ReportAbout } from '../report/report-types.js';
import type { UnmappedReport } from '../unmapped/unmapped-report.js';

/** What a sample of an installation's calls shows before anybody signs, as plain JSON: counts, and nothing of a patient. */
export interface Readiness {
  readonly kind: 'readiness';
  readonly about: ReportAbout;
  /** What would be signed: the installation, or the rulebook alone where there is no site file. */
  readonly contentHash: string;
  readonly sample: SampleFigures;
  readonly governance: GovernanceFigures;
  readonly entries: readonly EntryFigures[];
  readonly rules: readonly RuleFigures[];
  readonly missing: readonly MissingFact[];
  readonly facts: readonly FactFigures[];
  /** Hips whose facts were counted, each once for a member. */
  readonly hips: HipsCounted;
  readonly sets: readonly SetFigures[];
  readonly unmapped: UnmappedReport;
  /** Kinds of unmapped codings that were not counted because there were too many. */
  readonly unmappedLeftOut: number;
  /** What the rulebook itself says of its limits. */
  readonly limits: readonly string[];
  readonly hazards: readonly Hazard[];
  readonly latency?: LatencyFigures;
}

export interface SampleFigures {
  readonly members: number;
  readonly calls: number;
  readonly bundles: number;
  /** Members that could not be read, by why. */
  readonly unreadable: readonly { readonly why: string; readonly count: number }[];
  /** First and last month of visits, orders and measures. */
  readonly months: readonly {
    readonly of: string;
    readonly first: string;
    readonly last: string;
  }[];
}

/** What the installation would say once it is signed, beside what it says now. */
export interface GovernanceFigures {
  readonly now: Governance;
  readonly signed: Governance;
  readonly ceilings: readonly { readonly hook: Hook; readonly most: number; readonly shipped: number }[];
  readonly audience: readonly { readonly service: string; readonly roles: readonly string[] }[];
}

/** One hook: what its calls were about, and what they would be told. */
export interface EntryFigures {
  readonly hook: Hook;
  readonly calls: number;
  readonly recognised: {
    readonly yes: number;
    readonly no: number;
    readonly unknown: number;
    readonly refused: number;
    readonly lay: number;
    readonly off: number;
  };
  /** Recognised calls by what made them so: a coding's system, or what lies in the hip. */
  readonly by: readonly { readonly what: string; readonly calls: number }[];
  /** Recognised calls whose reader is none of those the site lists. */
  readonly notListed: number;
  /** Recognised calls in which the site's maps translated a code. */
  readonly mapped: number;
  readonly hips: number;
  /** Recognised calls by number of cards: what they would be told where the service speaks. */
  readonly callsByCards: readonly number[];
  readonly callsWith: Readonly<Record<Indicator, number>>;
  /** Cards that were not shown, by why. */
  readonly kept: readonly { readonly why: string; readonly cards: number; readonly calls: number }[];
}

/** One rule, over the calls of the hooks at which it is asked. */
export interface RuleFigures {
  readonly rule: string;
  readonly title: string;
  readonly indicator: Indicator;
  readonly tells: 'card' | 'line' | 'page';
  readonly hooks: readonly Hook[];
  readonly state: string;
  readonly calls: number;
  readonly recognised: number;
  readonly hips: number;
  /** Calls in which it fires, and hips on which it has each outcome. */
  readonly callsFiring: number;
  readonly outcomes: Readonly<Record<Outcome, number>>;
  readonly cards: number;
  readonly keptByCeiling: number;
}

export interface HipsCounted {
  readonly planned: number;
  readonly 'in-place': number;
  /** Left out: which of two hips is meant is not stated, so nothing is known of it. */
  readonly sideless: number;
}

/** One measure, diagnosis or laboratory value: on how many hips it was found, and at which stage. */
export interface FactFigures {
  readonly fact: string;
  readonly title: string;
  readonly kind: 'measure' | 'condition' | 'observation';
  /** `any` where it has no stage. */
  readonly found: Readonly<Record<string, number>>;
  readonly absent: number;
  /** Recorded and not usable, by why: refused, stale, conflicting and so on. */
  readonly unusable: Readonly<Record<string, number>>;
  readonly notRecorded: number;
  readonly notRead: number;
  /** Found through a site's map or a default. */
  readonly assumed: number;
}

/** How one set of resources arrived at one hook. */
export interface SetFigures {
  readonly hook: Hook;
  readonly key: string;
  readonly title: string;
  readonly complete: number;
  readonly incomplete: number;
  readonly absent: number;
  readonly failed: number;
}

/** How long advise() took here, in milliseconds. */
export interface LatencyFigures {
  readonly calls: number;
  readonly p50: number;
  readonly p95: number;
  readonly p99: number;
  readonly longest: number;
  readonly machine: string;
}

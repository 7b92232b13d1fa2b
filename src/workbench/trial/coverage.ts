import { explain, leafFromFacts } from '../../engine/decide.js';
import type { Advisory, HipEvaluation } from '../../engine/evaluate.js';
import type { Explanation } from '../../engine/explanation.js';
import type { Condition, Rule, Rulebook } from '../../rulebook/types.js';
import { OUTCOMES } from '../../render/words.js';
import type { CoverageMatrix, CoverageRow } from '../report/report-types.js';
import type { RuleSources } from '../rule-sources.js';
import type { Run } from './run-case.js';
import { ThresholdRecorder } from './threshold-coverage.js';
import type { EdgeCoverage, RuleTrees } from './threshold-coverage.js';

/** Which of a rule's findings spoke, and for whom first. */
export interface FindingCoverage {
  readonly rule: string;
  readonly index: number;
  /** What the finding says first, for a reader to know it by. */
  readonly summary: string;
  readonly seen: number;
  readonly example?: string;
}

export interface Coverage {
  readonly matrix: CoverageMatrix;
  readonly findings: readonly FindingCoverage[];
  readonly thresholds: readonly EdgeCoverage[];
}

interface Counted {
  count: number;
  example?: string;
}

/** Gathers, run by run, which outcomes, findings and sides of thresholds were met. */
export class CoverageRecorder {
  readonly #counts = new Map<string, Counted>();
  readonly #thresholds: ThresholdRecorder;

  constructor(
    private readonly rulebook: Rulebook,
    sources: RuleSources,
  ) {
    this.#thresholds = new ThresholdRecorder(rulebook, sources);
  }

  add({ trial, answer }: Run): void {
    for (const hip of answer?.hips ?? []) {
      for (const advisory of hip.advisories) this.#addAdvisory(advisory, hip, trial.name);
    }
  }

  #addAdvisory(advisory: Advisory, hip: HipEvaluation, name: string): void {
    const rule = this.rulebook.rules.find(({ id }) => id === advisory.rule);
    if (!rule) return;
    this.#count(`${rule.id} ${advisory.outcome}`, name);
    if (advisory.fired)
      this.#count(`${rule.id} finding ${rule.findings.indexOf(advisory.fired.finding)}`, name);
    const { appliesWhen, when } = advisory;
    if (!appliesWhen || !when) return;
    this.#thresholds.add(rule.id, { appliesWhen, when, ...wordTrees(rule, advisory, hip) }, name);
  }

  #count(key: string, name: string): void {
    const known = this.#counts.get(key);
    if (known) known.count += 1;
    else this.#counts.set(key, { count: 1, example: name });
  }

  finish(): Coverage {
    const { rules } = this.rulebook;
    return {
      matrix: { rows: rules.map((rule) => this.#row(rule)) },
      findings: rules.flatMap((rule) =>
        rule.findings.map((finding, index): FindingCoverage => {
          const counted = this.#counts.get(`${rule.id} finding ${index}`);
          const summary = finding.summary[0] ?? '';
          return {
            rule: rule.id,
            index,
            summary,
            seen: counted?.count ?? 0,
            ...(counted?.example !== undefined && { example: counted.example }),
          };
        }),
      ),
      thresholds: this.#thresholds.finish(),
    };
  }

  #row({ id, title, indicator }: Rule): CoverageRow {
    const counted = OUTCOMES.map((outcome) => [outcome, this.#counts.get(`${id} ${outcome}`)] as const);
    return {
      rule: id,
      title,
      indicator,
      outcomes: Object.fromEntries(
        counted.map(([outcome, one]) => [outcome, one?.count ?? 0]),
      ) as CoverageRow['outcomes'],
      examples: Object.fromEntries(
        counted.flatMap(([outcome, one]) => (one ? [[outcome, one.example]] : [])),
      ),
    };
  }
}

/** The trees of the conditions that choose words; they decide only for a rule that fires. */
function wordTrees(
  rule: Rule,
  { outcome }: Advisory,
  { facts, computed }: HipEvaluation,
): Pick<RuleTrees, 'wheres' | 'named'> {
  if (outcome !== 'fires') return { wheres: new Map(), named: new Map() };
  const all = new Map([...facts, ...[...computed.values()].map(({ fact }) => [fact.id, fact] as const)]);
  const treeOf = (condition: Condition): Explanation => explain(condition, leafFromFacts(all));
  return {
    wheres: new Map(
      rule.findings.flatMap(({ where }, index) => (where ? [[index, treeOf(where)] as const] : [])),
    ),
    named: new Map([...rule.named].map(([name, condition]) => [name, treeOf(condition)])),
  };
}

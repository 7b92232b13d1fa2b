import { SERVICES } from '../../advice/index.js';
import type { Advice, AdviceInput, Hook } from '../../advice/index.js';
import type { EvaluationSetting } from '../../advice/hook-inputs.js';
import type { HipEvaluation } from '../../engine/evaluate.js';
import { MissingCounts } from '../report/missing-counts.js';
import { unmappedReport } from '../unmapped/unmapped-report.js';
import { EntryCounts } from './entry-counts.js';
import { FactCounts } from './fact-counts.js';
import type { Readiness, SampleFigures } from './readiness-types.js';
import { RuleCounts } from './rule-counts.js';
import { SampleMonths } from './sample-months.js';
import { SetCounts } from './set-counts.js';
import { UnmappedCounts } from './unmapped-counts.js';

const HOOKS: readonly Hook[] = SERVICES.map(({ hook }) => hook);

/** One call and what was said to it. */
export interface Answered {
  readonly input: AdviceInput;
  readonly advice: Advice;
}

type Counted = Pick<
  Readiness,
  'entries' | 'rules' | 'missing' | 'facts' | 'hips' | 'sets' | 'unmapped' | 'unmappedLeftOut'
> &
  Pick<SampleFigures, 'months'>;

/** Everything that is counted of a sample's answers. */
export class SampleCounts {
  readonly #setting: EvaluationSetting;
  readonly #entries = HOOKS.map((hook) => new EntryCounts(hook));
  readonly #sets = new SetCounts();
  readonly #missing = new MissingCounts();
  readonly #months = new SampleMonths();
  readonly #rules: RuleCounts;
  readonly #facts: FactCounts;
  readonly #unmapped: UnmappedCounts;
  #members = 0;

  constructor(setting: EvaluationSetting) {
    this.#setting = setting;
    this.#rules = new RuleCounts(setting.rulebook);
    this.#facts = new FactCounts(setting.rulebook);
    this.#unmapped = new UnmappedCounts(setting.rulebook);
  }

  /** Everything one member was answered. */
  add(answers: readonly Answered[]): void {
    this.#members += 1;
    for (const { input, advice } of answers) {
      const { hook } = input.service;
      this.#entries.find((entry) => entry.hook === hook)?.add(advice);
      this.#rules.add(hook, advice);
      this.#sets.add(hook, advice);
      this.#months.add(input);
      if (advice.kind === 'answer') this.#missing.add(advice.hips, this.#members);
    }
    this.#facts.add(hipsOnce(answers));
    this.#unmapped.add(answers.map(({ advice }) => advice));
  }

  figures(stateOf: (rule: string, hooks: readonly Hook[]) => string): Counted {
    const { rulebook, site } = this.#setting;
    const entries = this.#entries.map((entry) => entry.figures());
    const seen = entries.filter(({ calls }) => calls > 0).map(({ hook }) => hook);
    return {
      months: this.#months.figures(),
      entries,
      rules: this.#rules.figures(stateOf),
      missing: this.#missing.figures(rulebook),
      facts: this.#facts.figures(),
      hips: this.#facts.hips,
      sets: this.#sets.figures(seen, rulebook),
      unmapped: unmappedReport(this.#unmapped.totals(), { rulebook, ...(site && { site }) }),
      unmappedLeftOut: this.#unmapped.leftOut,
    };
  }
}

/** Signing reads most of a hip's record, booking least: each hip is taken from the call that read most of it. */
const BY_READING: readonly Hook[] = ['order-sign', 'order-select', 'patient-view', 'appointment-book'];

function hipsOnce(answers: readonly Answered[]): readonly HipEvaluation[] {
  const hips = new Map<string, HipEvaluation>();
  const inOrder = BY_READING.flatMap((hook) => answers.filter(({ input }) => input.service.hook === hook));
  for (const { advice } of inOrder)
    for (const hip of advice.kind === 'answer' ? advice.hips : []) {
      const place = `${hip.hip} ${hip.construct}`;
      if (!hips.has(place)) hips.set(place, hip);
    }
  return [...hips.values()];
}

import { byText } from '../../base/order.js';
import type { Advisor, Hook } from '../../advice/index.js';
import type { Outcome } from '../../engine/evaluate.js';
import type { JsonObject } from '../../fhir/json.js';
import type { Indicator } from '../../render/card-types.js';
import type { Rulebook } from '../../rulebook/types.js';
import { evaluatePatient } from '../../advice/evaluate-patient.js';
import type { HookAnswer } from '../../advice/evaluate-patient.js';
import { inputsFromBundle } from '../../advice/hook-inputs.js';
import type { EvaluationSetting } from '../../advice/hook-inputs.js';
import { MissingCounts } from './missing-counts.js';
import type { CohortResult, CoverageMatrix, HookBurden, ReportAbout, Unreadable } from './report-types.js';

/** One member of a cohort: a Bundle with one patient, or why there is none. */
export type CohortMember =
  { readonly where: string; readonly bundle: JsonObject } | { readonly where: string; readonly why: string };

export interface CohortParts {
  readonly setting: EvaluationSetting;
  readonly advisor: Advisor;
  readonly hooks: readonly Hook[];
  /** What is run over, in words. */
  readonly over: string;
}

/**
 * What a rulebook says about a set of patients, one after another: memory holds counts, never patients. `onPatient` is
 * told how many are done.
 */
export async function cohortReport(
  members: AsyncIterable<CohortMember> | Iterable<CohortMember>,
  parts: CohortParts,
  onPatient: (done: number) => void = () => undefined,
): Promise<CohortResult> {
  const counts = newCounts(parts);
  for await (const member of members) {
    counts.patients += 1;
    if ('why' in member) counts.unreadable.push(member);
    else await countPatient(member.where, member.bundle, counts, parts);
    onPatient(counts.patients);
  }
  const { rulebook } = parts.setting;
  return {
    kind: 'cohort',
    about: reportAbout(parts.setting, parts.over),
    patients: counts.patients,
    withoutHip: counts.withoutHip,
    unreadable: counts.unreadable,
    coverage: coverageOf(counts.outcomes, rulebook),
    burden: parts.hooks.map((hook) => burdenOf(hook, counts.hooks.get(hook), rulebook)),
    missing: counts.missing.figures(rulebook),
  };
}

/** Which knowledge a report was made with. */
export function reportAbout({ rulebook, site, engine, now }: EvaluationSetting, over: string): ReportAbout {
  const { version, status, experimental } = rulebook.about;
  return {
    rulebook: { version, status: experimental ? `${status}, experimental` : status, hash: rulebook.hash },
    engine,
    ...(site && { site: { id: site.id, version: site.version, hash: site.hash } }),
    at: now,
    over,
  };
}

export type OutcomeCounts = Record<Outcome, number>;

export function noOutcomes(): OutcomeCounts {
  return { fires: 0, 'cannot-tell': 0, 'does-not-fire': 0, 'not-applicable': 0 };
}

interface HookCounts {
  calls: number;
  readonly callsByCards: number[];
  callsWithWarning: number;
  readonly cards: Record<Indicator, number>;
  readonly byRule: Map<string, { readonly title: string; readonly indicator: Indicator; cards: number }>;
}

interface Counts {
  patients: number;
  withoutHip: number;
  readonly unreadable: Unreadable[];
  readonly outcomes: ReadonlyMap<string, OutcomeCounts>;
  readonly hooks: ReadonlyMap<Hook, HookCounts>;
  readonly missing: MissingCounts;
}

function newCounts({ setting, hooks }: CohortParts): Counts {
  return {
    patients: 0,
    withoutHip: 0,
    unreadable: [],
    outcomes: new Map(setting.rulebook.rules.map(({ id }) => [id, noOutcomes()])),
    hooks: new Map(hooks.map((hook) => [hook, newHookCounts()])),
    missing: new MissingCounts(),
  };
}

function newHookCounts(): HookCounts {
  return {
    calls: 0,
    callsByCards: [],
    callsWithWarning: 0,
    cards: { info: 0, warning: 0, critical: 0 },
    byRule: new Map(),
  };
}

async function countPatient(
  where: string,
  bundle: JsonObject,
  counts: Counts,
  { setting, advisor, hooks }: CohortParts,
): Promise<void> {
  const inputs = inputsFromBundle(bundle, hooks, setting);
  const { answers, silent, refused } = await evaluatePatient(inputs, advisor);
  for (const { hook, why } of refused) counts.unreadable.push({ where, why: `${hook}: ${why}` });
  for (const hook of silent) countCall(counts.hooks.get(hook), []);
  if (answers.length === 0 && refused.length === 0) counts.withoutHip += 1;
  for (const { hook, answer } of answers) {
    countCall(counts.hooks.get(hook), answer.cards);
    for (const { rule, hip, construct } of answer.faults)
      counts.unreadable.push({
        where,
        why: `${hook}: ${rule} could not be evaluated (${hip}, ${construct})`,
      });
    counts.missing.add(answer.hips, counts.patients);
    for (const { rule, outcome } of answer.hips.flatMap(({ advisories }) => advisories)) {
      const mine = counts.outcomes.get(rule);
      if (mine) mine[outcome] += 1;
    }
  }
}

function countCall(counts: HookCounts | undefined, cards: HookAnswer['answer']['cards']): void {
  if (!counts) return;
  counts.calls += 1;
  counts.callsByCards[cards.length] = (counts.callsByCards[cards.length] ?? 0) + 1;
  if (cards.some(({ indicator }) => indicator !== 'info')) counts.callsWithWarning += 1;
  for (const { indicator, source } of cards) {
    counts.cards[indicator] += 1;
    const { code, display } = source.topic;
    const known = counts.byRule.get(code) ?? { title: display, indicator, cards: 0 };
    known.cards += 1;
    counts.byRule.set(code, known);
  }
}

/** Every rule with how often it had each outcome. */
export function coverageOf(
  outcomes: ReadonlyMap<string, OutcomeCounts>,
  { rules }: Rulebook,
): CoverageMatrix {
  return {
    rows: rules.map(({ id, title, indicator }) => ({
      rule: id,
      title,
      indicator,
      outcomes: outcomes.get(id) ?? noOutcomes(),
    })),
  };
}

/** Cards that are no rule's: what could not be read, and what the ceiling left out. */
function burdenOf(hook: Hook, counts: HookCounts = newHookCounts(), { rules }: Rulebook): HookBurden {
  const { calls, callsByCards, callsWithWarning, cards, byRule } = counts;
  const spoke = [...byRule].map(([rule, told]) => ({ rule, ...told }));
  const silent = rules
    .filter(({ id, entries }) => entries.includes(hook) && !byRule.has(id))
    .map(({ id, title, indicator }) => ({ rule: id, title, indicator, cards: 0 }));
  return {
    hook,
    calls,
    callsByCards: Array.from({ length: callsByCards.length }, (_none, index) => callsByCards[index] ?? 0),
    callsWithWarning,
    cards,
    cardsByRule: [...spoke, ...silent].sort(
      (a, b) => b.cards - a.cards || byText(({ rule }: { readonly rule: string }) => rule)(a, b),
    ),
  };
}

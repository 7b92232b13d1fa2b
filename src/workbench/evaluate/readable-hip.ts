import type { Hook } from '../../advice/index.js';
import { byText } from '../../base/order.js';
import { foundIn } from '../../engine/compare.js';
import { COMPUTATIONS } from '../../engine/computations.js';
import { computeAll } from '../../engine/compute.js';
import type { Computed } from '../../engine/compute.js';
import type { Advisory, HipEvaluation, Outcome, Cause } from '../../engine/evaluate.js';
import type { ShownNumber } from '../../engine/shown-numbers.js';
import type { ConstructKind, Hip } from '../../facts/definitions.js';
import type { Fact } from '../../facts/fact.js';
import type { Indicator } from '../../render/card-types.js';
import type { Rule, Rulebook } from '../../rulebook/types.js';
import { readableTree, sourceNotes } from '../../render/readable-tree.js';
import type { ReadableNode, TreeScope } from '../../render/readable-tree.js';
import { OUTCOMES, foundText, hipTitle, quantityText, reasonText, titleOf } from '../../render/words.js';

/** One construct of one hip, as the hook that reads most found it. */
export interface ReadableHip {
  readonly hip: Hip;
  readonly construct: ConstructKind;
  readonly title: string;
  readonly hook: Hook;
  readonly rules: readonly ReadableRule[];
  /** Rules whose outcome another hook sees otherwise, because it reads other sets. */
  readonly otherwise: readonly { readonly rule: string; readonly hook: Hook; readonly outcome: Outcome }[];
  readonly facts: readonly ReadableFact[];
  readonly computed: readonly ReadableComputed[];
  readonly missing: readonly ReadableMissing[];
  readonly findings: readonly { readonly text: string; readonly from: readonly string[] }[];
}

export interface ReadableRule {
  readonly rule: string;
  readonly version: string;
  readonly title: string;
  readonly indicator: Indicator;
  readonly outcome: Outcome;
  /** The rule's own sentence for this outcome. */
  readonly says: string;
  readonly needs: readonly string[];
  readonly broken: boolean;
  readonly appliesWhen?: ReadableNode;
  readonly when?: ReadableNode;
  readonly certainty: string;
  /** Numbers its card shows, with what was put in for a value of the plan. */
  readonly numbers: readonly string[];
  readonly assumptions: readonly string[];
  /** What may be behind it: found, not found, or open with what would settle it. */
  readonly causes: readonly string[];
  readonly citations: readonly string[];
}

export interface ReadableFact {
  readonly id: string;
  readonly title: string;
  readonly value: string;
  readonly from: string;
  readonly doubts: readonly string[];
}

export interface ReadableComputed {
  readonly id: string;
  readonly title: string;
  readonly value: string;
  readonly inputs: string;
  readonly doubts: readonly string[];
}

export interface ReadableMissing {
  readonly fact: string;
  readonly title: string;
  /** Rules that cannot tell and name it. */
  readonly rules: readonly string[];
  /** Those that name nothing else. */
  readonly alone: readonly string[];
}

/** A hip in words: `others` are the same construct as other hooks see it. */
export function readableHip(
  hip: HipEvaluation,
  hook: Hook,
  others: readonly { readonly hip: HipEvaluation; readonly hook: Hook }[],
  rulebook: Rulebook,
): ReadableHip {
  const scope: TreeScope = {
    rulebook,
    facts: hip.facts,
    inputsOf: (id) => hip.computed.get(id)?.inputs,
  };
  const rules = hip.advisories.flatMap((advisory) => {
    const rule = rulebook.rules.find(({ id }) => id === advisory.rule);
    return rule ? [readableRule(rule, advisory, scope)] : [];
  });
  const outcomes = new Map(hip.advisories.map(({ rule, outcome }) => [rule, outcome]));
  const asked = new Set(hip.advisories.flatMap(({ needs }) => needs));
  return {
    hip: hip.hip,
    construct: hip.construct,
    title: hipTitle(hip.hip, hip.construct),
    hook,
    rules: [...rules].sort(
      (a, b) => OUTCOMES.indexOf(a.outcome) - OUTCOMES.indexOf(b.outcome) || (a.rule < b.rule ? -1 : 1),
    ),
    otherwise: others.flatMap((other) =>
      other.hip.advisories
        .filter(({ rule, outcome }) => outcomes.get(rule) !== outcome)
        .map(({ rule, outcome }) => ({ rule, hook: other.hook, outcome })),
    ),
    facts: [...hip.facts.values()].flatMap((fact) => readableFact(fact, asked, rulebook)),
    computed: [...computeAll({ rulebook, table: COMPUTATIONS, facts: hip.facts }).values()].map((one) =>
      readableComputed(one, scope),
    ),
    missing: missingOf(hip.advisories, rulebook),
    findings: hip.findings.map(({ text, from }) => ({ text, from })),
  };
}

function readableRule(rule: Rule, advisory: Advisory, scope: TreeScope): ReadableRule {
  const { outcome, needs, broken, appliesWhen, when, fired } = advisory;
  const { mechanism, prognosis, treatment, why } = rule.certainty;
  const parts = [
    ...(mechanism === undefined ? [] : [`mechanism ${mechanism}`]),
    ...(prognosis === undefined ? [] : [`prognosis ${prognosis}`]),
    ...(treatment === undefined ? [] : [`treatment ${treatment}`]),
  ];
  return {
    rule: rule.id,
    version: rule.version,
    title: rule.title,
    indicator: rule.indicator,
    outcome,
    says: rule.messages[MESSAGE_OF[outcome]],
    needs: needs.map((id) => titleOf(id, scope.rulebook)),
    broken,
    ...(appliesWhen && { appliesWhen: readableTree(appliesWhen, scope) }),
    ...(when && { when: readableTree(when, scope) }),
    certainty: parts.length === 0 ? why : `${parts.join(', ')}: ${why}`,
    numbers: [...(fired?.numbers ?? [])].map(([name, number]) => numberText(name, number, scope.rulebook)),
    assumptions: fired?.assumptions ?? [],
    causes: (fired?.causes ?? []).map((cause) => causeText(cause, scope.rulebook)),
    citations: (rule.citations ?? []).map(({ key }) => key),
  };
}

function causeText({ says, truth, needs }: Cause, rulebook: Rulebook): string {
  switch (truth) {
    case 'true':
      return `${says}: found`;
    case 'false':
      return `${says}: not found`;
    case 'unknown':
      return `${says}: open, would be settled by ${needs.map((id) => titleOf(id, rulebook)).join(', ')}`;
  }
}

function numberText(
  name: string,
  { value, unit, motion, with: replaced }: ShownNumber,
  rulebook: Rulebook,
): string {
  const put = Object.entries(replaced).map(([id, input]) => inputText(id, input, rulebook));
  return [
    `${name.replaceAll('-', ' ')} ${quantityText(value, unit)}`,
    ...(motion === undefined ? [] : [`(${motion})`]),
    ...(put.length === 0 ? [] : [`at ${put.join(', ')}`]),
  ].join(' ');
}

function inputText(id: string, value: number, rulebook: Rulebook): string {
  const definition = rulebook.factById.get(id);
  const unit = definition && 'unit' in definition ? definition.unit : undefined;
  return `${titleOf(id, rulebook)} ${quantityText(value, unit)}`;
}

const MESSAGE_OF = {
  fires: 'fires',
  'does-not-fire': 'doesNotFire',
  'not-applicable': 'notApplicable',
  'cannot-tell': 'cannotTell',
} as const satisfies Record<Outcome, keyof Rule['messages']>;

/** Facts that are recorded, and those that are not known and were asked for. */
function readableFact(fact: Fact, asked: ReadonlySet<string>, rulebook: Rulebook): readonly ReadableFact[] {
  const { id, state, unit, remarks, assumptions = [] } = fact;
  const title = titleOf(id, rulebook);
  const doubts = [...remarks, ...assumptions];
  switch (state.status) {
    case 'absent':
      return [];
    case 'unknown':
      return state.reason === 'not-recorded' && !asked.has(id)
        ? []
        : [{ id, title, value: 'not known', from: '', doubts: [reasonText(state.reason), ...doubts] }];
    case 'present': {
      const found = foundText(foundIn(state.value).found, unit, rulebook);
      const value = state.value.kind === 'recorded' ? recordedText(found, title) : found;
      return [{ id, title, value, from: sourceNotes(fact, rulebook).join(' · '), doubts }];
    }
  }
}

function recordedText(found: string, title: string): string {
  return found === title ? 'recorded' : `recorded: ${found}`;
}

function readableComputed(one: Computed, { rulebook }: TreeScope): ReadableComputed {
  const { id, unit, fact, shown, motion, inputs, assumptions, failure } = one;
  const from = Object.entries(inputs).map(([name, value]) => inputText(name, value, rulebook));
  const value = shown === undefined ? 'not known' : quantityText(shown, unit);
  return {
    id,
    title: titleOf(id, rulebook),
    value: motion === undefined ? value : `${value} (${motion})`,
    inputs: from.join(', '),
    doubts: [
      ...(failure === undefined ? [] : ['could not be worked out']),
      ...assumptions,
      ...decidedText(fact, shown, rulebook),
    ],
  };
}

/** What a rule decides with, where that is not the number shown: the whole range of what it may be. */
function decidedText(
  { state, unit }: Fact,
  shown: number | undefined,
  rulebook: Rulebook,
): readonly string[] {
  if (state.status === 'unknown')
    return state.needs.length === 0
      ? []
      : [`needs ${state.needs.map((need) => titleOf(need, rulebook)).join(', ')}`];
  if (state.status !== 'present') return [];
  const { found } = foundIn(state.value);
  return found === shown ? [] : [`decides as ${foundText(found, unit, rulebook)}`];
}

function missingOf(advisories: readonly Advisory[], rulebook: Rulebook): readonly ReadableMissing[] {
  const rules = new Map<string, { readonly all: string[]; readonly alone: string[] }>();
  for (const { rule, outcome, needs } of advisories) {
    if (outcome !== 'cannot-tell') continue;
    for (const need of needs) {
      const entry = rules.get(need) ?? { all: [], alone: [] };
      entry.all.push(rule);
      if (needs.length === 1) entry.alone.push(rule);
      rules.set(need, entry);
    }
  }
  return [...rules]
    .map(([fact, { all, alone }]) => ({ fact, title: titleOf(fact, rulebook), rules: all, alone }))
    .sort((a, b) => b.rules.length - a.rules.length || byText(({ fact }: ReadableMissing) => fact)(a, b));
}

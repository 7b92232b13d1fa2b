import { sortedUnique } from '../../base/order.js';
import { conditionFacts } from '../../rulebook/condition-facts.js';
import type { Condition, Entry, Finding, Parameter, Rule, Rulebook } from '../../rulebook/types.js';
import { askedText } from '../readable-tree.js';
import { titleOf } from '../words.js';

/** What every reader of a rule is told of it first. */
export interface RuleHead {
  readonly rule: string;
  readonly version: string;
  readonly title: string;
  readonly type: Rule['type'];
  readonly intent: Rule['intent'];
  readonly indicator: Rule['indicator'];
  readonly entries: readonly Entry[];
  /** The sentence for each outcome. */
  readonly outcomes: Rule['messages'];
  /** Set where there is no source. */
  readonly basis?: string;
}

/** A rule in words, as plain JSON: what it says, when, on whose evidence, and who shows it. */
export interface ExplainedRule extends RuleHead {
  readonly reviewBy: string;
  readonly appliesWhen: ExplainedNode;
  readonly firesWhen: ExplainedNode;
  readonly findings: readonly ExplainedFinding[];
  readonly effects: readonly ExplainedEffect[];
  readonly certainty: Rule['certainty'];
  readonly citations: readonly ExplainedCitation[];
  readonly parameters: readonly ExplainedParameter[];
  /** Facts and computations it asks for. */
  readonly asks: readonly {
    readonly id: string;
    readonly title: string;
    readonly inputs?: readonly string[];
  }[];
  /** Test patients that expect its card. */
  readonly patients: readonly ExplainingPatient[];
}

export interface ExplainedNode {
  readonly asked: string;
  readonly name?: string;
  readonly parameter?: string;
  readonly children: readonly ExplainedNode[];
}

export type ExplainedFinding = Omit<Finding, 'where'> & { readonly where?: ExplainedNode };

export interface ExplainedEffect {
  readonly when: string;
  readonly says: string;
  readonly citations: readonly string[];
}

export interface ExplainedCitation {
  readonly key: string;
  readonly where: string;
  readonly supports: string;
  readonly source: string;
  readonly readAt: string;
}

export type ExplainedParameter = Pick<
  Parameter,
  'id' | 'value' | 'unit' | 'use' | 'readAt' | 'certainty' | 'citations' | 'why'
>;

export interface ExplainingPatient {
  readonly name: string;
  readonly teaches: string;
  /** The hooks at which the card is expected, each with the hips. */
  readonly hooks: readonly string[];
}

/** What `explain` knows of a test patient. */
export interface PatientCards {
  readonly name: string;
  readonly expected: {
    readonly teaches: string;
    readonly cards: Readonly<Partial<Record<string, readonly { readonly rule: string }[]>>>;
  };
}

export function ruleHead(rule: Rule): RuleHead {
  const { id, version, title, type, intent, indicator, entries, messages, basis } = rule;
  const head = { rule: id, version, title, type, intent, indicator, entries, outcomes: messages };
  return { ...head, ...(basis !== undefined && { basis }) };
}

export function explainRule(
  rule: Rule,
  rulebook: Rulebook,
  patients: readonly PatientCards[],
): ExplainedRule {
  const { id, reviewBy, certainty } = rule;
  return {
    ...ruleHead(rule),
    reviewBy,
    appliesWhen: explainedNode(rule.appliesWhen, rulebook),
    firesWhen: explainedNode(rule.when, rulebook),
    findings: rule.findings.map(({ where, ...finding }) => ({
      ...finding,
      ...(where && { where: explainedNode(where, rulebook) }),
    })),
    effects: (rule.effects ?? []).map(({ fact, says, citations }) => ({
      when: `${titleOf(fact, rulebook)} recorded`,
      says,
      citations,
    })),
    certainty,
    citations: (rule.citations ?? []).map(({ key, where, supports }) => ({
      key,
      where,
      supports,
      source: rulebook.citations.get(key)?.short ?? key,
      readAt: rulebook.citations.get(key)?.readAt ?? 'not known',
    })),
    parameters: parametersOf(rule, rulebook),
    asks: asksOf(rule, rulebook),
    patients: patients.flatMap((patient) => explainingPatient(id, patient)),
  };
}

function explainedNode(condition: Condition, rulebook: Rulebook): ExplainedNode {
  const named = condition.name === undefined ? {} : { name: condition.name };
  switch (condition.kind) {
    case 'all':
    case 'any':
      return {
        asked: condition.kind === 'all' ? 'all of these' : 'at least one of these',
        ...named,
        children: condition.children.map((child) => explainedNode(child, rulebook)),
      };
    case 'not':
      return { asked: 'not this', ...named, children: [explainedNode(condition.child, rulebook)] };
    case 'leaf': {
      const { fact, operator, limit } = condition;
      const { value, unit, parameter } = limit;
      return {
        asked: askedText({ fact, operator, limit: value, ...(unit !== undefined && { unit }) }, rulebook),
        ...named,
        ...(parameter !== undefined && { parameter }),
        children: [],
      };
    }
  }
}

/** Every parameter that the rule's file names, wherever it stands. */
function parametersOf(rule: Rule, { parameters }: Rulebook): readonly ExplainedParameter[] {
  const named = JSON.stringify(rule).matchAll(/"(?:parameter|step|within|motionSet)":"([a-z0-9.-]+)"/g);
  const inTexts = JSON.stringify(rule).matchAll(/\{([a-z0-9-]+)(?:\.[A-Za-z]+)?\}/g);
  return sortedUnique([...named, ...inTexts].map(([, id]) => id ?? '')).flatMap((id) => {
    const parameter = parameters.get(id);
    if (!parameter) return [];
    const { value, unit, use, readAt, certainty, citations, why } = parameter;
    return [{ id, value, unit, use, readAt, certainty, citations, why }];
  });
}

function asksOf(rule: Rule, rulebook: Rulebook): ExplainedRule['asks'] {
  const ids = sortedUnique([...conditionFacts(rule.appliesWhen), ...conditionFacts(rule.when)]);
  return ids.map((id) => {
    const file = rulebook.computations.get(id.split('[')[0] ?? id);
    return {
      id,
      title: titleOf(id, rulebook),
      ...(file && { inputs: file.inputs.map(({ fact }) => fact) }),
    };
  });
}

function explainingPatient(rule: string, { name, expected }: PatientCards): readonly ExplainingPatient[] {
  const hooks = Object.entries(expected.cards).flatMap(([hook, cards]) =>
    (cards ?? []).some((card) => card.rule === rule) ? [hook] : [],
  );
  return hooks.length === 0 ? [] : [{ name, teaches: expected.teaches, hooks }];
}

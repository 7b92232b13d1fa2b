import { formatDate } from '../base/dates.js';
import type { ComparisonExplanation, Explanation } from '../engine/explanation.js';
import type { Truth } from '../engine/truth.js';
import type { Fact } from '../facts/fact.js';
import type { Rulebook } from '../rulebook/types.js';
import { foundText, limitText, operatorText, reasonText, termOf, titleOf } from './words.js';

/** An explanation in words: one node for each of the rule's own. */
export interface ReadableNode {
  readonly truth: Truth;
  /** What was asked. */
  readonly asked: string;
  /** What was found, where something was. */
  readonly found?: string;
  /** Where it came from, which limit was used, what is missing. */
  readonly notes: readonly string[];
  readonly children: readonly ReadableNode[];
}

/** What the words of a tree are taken from. */
export interface TreeScope {
  readonly rulebook: Rulebook;
  readonly facts: ReadonlyMap<string, Fact>;
  /** The inputs of a computation, where the asked thing is one. */
  readonly inputsOf: (computation: string) => Readonly<Record<string, number>> | undefined;
}

export function readableTree(explanation: Explanation, scope: TreeScope): ReadableNode {
  const { truth, name } = explanation;
  const notes = name === undefined ? [] : [`named ${name}`];
  switch (explanation.kind) {
    case 'all':
    case 'any':
      return {
        truth,
        asked: explanation.kind === 'all' ? 'all of these' : 'at least one of these',
        notes,
        children: explanation.children.map((child) => readableTree(child, scope)),
      };
    case 'not':
      return { truth, asked: 'not this', notes, children: [readableTree(explanation.child, scope)] };
    case 'compare':
      return comparisonNode(explanation, notes, scope);
  }
}

function comparisonNode(
  comparison: ComparisonExplanation,
  named: readonly string[],
  scope: TreeScope,
): ReadableNode {
  const { truth, fact, found, unit } = comparison;
  const { rulebook } = scope;
  return {
    truth,
    asked: askedText(comparison, rulebook),
    ...(found !== undefined && { found: foundText(found, unit, rulebook) }),
    notes: [
      ...named,
      ...(comparison.error === undefined
        ? []
        : [`clearly: beyond the measuring error of ${limitText(comparison.error, unit, rulebook)}`]),
      ...(comparison.parameter === undefined ? [] : [`limit: ${comparison.parameter}`]),
      ...sourceNotes(scope.facts.get(fact), rulebook),
      ...inputNotes(fact, scope),
      ...missingNotes(comparison, rulebook),
    ],
    children: [],
  };
}

export function askedText(
  { fact, operator, limit, unit }: Pick<ComparisonExplanation, 'fact' | 'operator' | 'limit' | 'unit'>,
  rulebook: Rulebook,
): string {
  const title = titleOf(fact, rulebook);
  return operator === 'recorded'
    ? `${title} recorded`
    : `${title} ${operatorText(operator)} ${limitText(limit, unit, rulebook)}`;
}

/** Stage, method, date, the value as it was found, and the resources it came from. */
export function sourceNotes(fact: Fact | undefined, rulebook: Rulebook): readonly string[] {
  if (fact?.state.status !== 'present') return [];
  const { stage, method, retained, provenance } = fact;
  const { from, date, asFound } = provenance;
  const how = [
    ...(stage === undefined ? [] : [stage]),
    ...(retained ? ['stays in place'] : []),
    ...(method === undefined ? [] : [termOf(method, rulebook)]),
    ...(date === undefined ? [] : [formatDate(date)]),
    ...(asFound ? [`as found ${asFound.value}${asFound.unit === undefined ? '' : ` ${asFound.unit}`}`] : []),
    ...(from.length === 0 ? [] : [from.join(', ')]),
  ];
  return how.length === 0 ? [] : [how.join(' · ')];
}

function inputNotes(id: string, { inputsOf, rulebook }: TreeScope): readonly string[] {
  const inputs = Object.entries(inputsOf(id) ?? {});
  if (inputs.length === 0) return [];
  const told = inputs.map(([name, value]) => {
    const definition = rulebook.factById.get(name);
    const unit = definition && 'unit' in definition ? definition.unit : undefined;
    return `${titleOf(name, rulebook)} ${foundText(value, unit, rulebook)}`;
  });
  return [`computed from ${told.join(', ')}`];
}

function missingNotes(
  { truth, reason, needs, fact }: ComparisonExplanation,
  rulebook: Rulebook,
): readonly string[] {
  if (truth !== 'unknown') return [];
  const why = reason === undefined ? [] : [reasonText(reason)];
  const wanted = (needs ?? [fact]).filter((id) => id !== fact || reason === 'spans-limit');
  return [
    ...why,
    ...(wanted.length === 0
      ? []
      : [`would be told by: ${wanted.map((id) => titleOf(id, rulebook)).join(', ')}`]),
  ];
}

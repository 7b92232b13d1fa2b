import { sortedUnique } from '../base/order.js';
import type { Effect, Rule } from '../rulebook/types.js';
import { fill } from './message.js';
import type { MessageScope } from './message.js';

export function effectLines(rule: Rule, scope: MessageScope): readonly string[] {
  const shown = shownEffects(rule, scope).flatMap((effect) => fill(effect.says, scope) ?? []);
  if (shown.length === 0) return [];
  const items = shown.map((text) => `- ${text}`).join('\n');
  return [`Evidence read; effects overlap and do not add:\n${items}`];
}

function shownEffects(rule: Rule, scope: MessageScope): readonly Effect[] {
  return (rule.effects ?? []).filter(({ fact }) => scope.facts.get(fact)?.state.status === 'present');
}

export function citationKeys(rule: Rule, scope: MessageScope): readonly string[] {
  const effects = shownEffects(rule, scope).flatMap(({ citations }) => citations);
  return sortedUnique([...(rule.citations ?? []).map(({ key }) => key), ...effects]);
}

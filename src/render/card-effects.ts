import { sortedUnique } from '../base/order.js';
import { nodeNamed } from '../engine/explanation.js';
import type { Effect, Entry, Rule } from '../rulebook/types.js';
import { fill } from './message.js';
import type { MessageScope } from './message.js';

/** One line for each effect that concerns this patient. */
export function effectLines(rule: Rule, scope: MessageScope, entry: Entry): readonly string[] {
  const shown = shownEffects(rule, scope, entry).flatMap((effect) => fill(effect.says, scope) ?? []);
  if (shown.length === 0) return [];
  const items = shown.map((text) => `- ${text}`).join('\n');
  return [`Evidence read; effects overlap and do not add:\n${items}`];
}

function shownEffects(rule: Rule, scope: MessageScope, entry: Entry): readonly Effect[] {
  return (rule.effects ?? []).filter(
    ({ fact, node, entries }) =>
      scope.facts.get(fact)?.state.status === 'present' &&
      (node === undefined || nodeNamed(scope.when, node)?.truth === 'true') &&
      (entries === undefined || entries.includes(entry)),
  );
}

/** Every source behind what a card says, sorted. */
export function citationKeys(rule: Rule, scope: MessageScope, entry: Entry): readonly string[] {
  const effects = shownEffects(rule, scope, entry).flatMap(({ citations }) => citations);
  return sortedUnique([...(rule.citations ?? []).map(({ key }) => key), ...effects]);
}

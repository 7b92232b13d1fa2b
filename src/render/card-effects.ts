import { sortedUnique } from '../base/order.js';
import { nodeNamed } from '../engine/explanation.js';
import type { Effect, Entry, Rule, Rulebook } from '../rulebook/types.js';
import { fill } from './message.js';
import type { MessageScope } from './message.js';

/** Effects of one or more studies that are told in one breath, because a study is in all of them. */
export interface ToldEffect {
  readonly says: readonly string[];
  /** Each study by its DOI, else its PMID, else the name of its citation. */
  readonly studies: readonly string[];
}

/** What was read about one outcome. */
export interface ToldEvidence {
  readonly endpoint: Effect['endpoint'];
  readonly effects: readonly ToldEffect[];
}

/**
 * The effects that concern this patient, one group for each outcome that was counted, in the order of the rule. A study
 * stands once in a group, so that nobody counts it twice.
 */
export function evidenceTold(
  effects: readonly FilledEffect[],
  rulebook: Pick<Rulebook, 'citations'>,
): readonly ToldEvidence[] {
  const groups = new Map<Effect['endpoint'], ToldEffect[]>();
  for (const { effect, says } of effects) {
    const group = groups.get(effect.endpoint) ?? [];
    groups.set(effect.endpoint, joined(group, { says: [says], studies: studiesOf(effect, rulebook) }));
  }
  return [...groups].map(([endpoint, told]) => ({ endpoint, effects: told }));
}

/** Puts an effect to the one that shares a study with it; where it joins several, they become one. */
function joined(group: readonly ToldEffect[], effect: ToldEffect): ToldEffect[] {
  const shares = ({ studies }: ToldEffect): boolean => studies.some((one) => effect.studies.includes(one));
  const [first, ...others] = group.filter(shares);
  if (!first) return [...group, effect];
  const all = [first, ...others, effect];
  const one = {
    says: all.flatMap(({ says }) => says),
    studies: sortedUnique(all.flatMap(({ studies }) => studies)),
  };
  return group.filter((other) => !others.includes(other)).map((other) => (other === first ? one : other));
}

function studiesOf({ citations }: Effect, rulebook: Pick<Rulebook, 'citations'>): readonly string[] {
  return sortedUnique(
    citations.map((key) => {
      const citation = rulebook.citations.get(key);
      return citation?.doi ?? citation?.pmid ?? key;
    }),
  );
}

/** One block for each outcome, one line for each study; one that was named for another outcome is said to be the same. */
export function effectBlocks(evidence: readonly ToldEvidence[]): readonly string[] {
  const named = new Set<string>();
  return evidence.map(({ endpoint, effects }, index) => {
    const heading = `Evidence read on ${endpoint.replaceAll('-', ' ')}`;
    const items = effects.map(({ says, studies }) => {
      const again = studies.length > 0 && studies.every((study) => named.has(study));
      const notes = [
        ...(says.length > 1 ? ['same source, told once'] : []),
        ...(again ? ['study named above'] : []),
      ];
      return `- ${says.join('; ')}${notes.length === 0 ? '' : ` (${notes.join('; ')})`}`;
    });
    for (const study of effects.flatMap(({ studies }) => studies)) named.add(study);
    return `${heading}${index === 0 ? '; effects overlap and do not add' : ''}:\n${items.join('\n')}`;
  });
}

/** An effect that concerns this patient, and what it says of him. */
export interface FilledEffect {
  readonly effect: Effect;
  readonly says: string;
}

/** The effects of a rule that can be told of this patient at this entry, in the order of the rule. */
export function filledEffects(rule: Rule, scope: MessageScope, entry: Entry): readonly FilledEffect[] {
  return (rule.effects ?? []).flatMap((effect) => {
    const says = concerns(effect, scope, entry) ? fill(effect.says, scope) : undefined;
    return says === undefined ? [] : [{ effect, says }];
  });
}

function concerns({ fact, node, entries }: Effect, scope: MessageScope, entry: Entry): boolean {
  return (
    scope.facts.get(fact)?.state.status === 'present' &&
    (node === undefined || nodeNamed(scope.when, node)?.truth === 'true') &&
    (entries === undefined || entries.includes(entry))
  );
}

/** Every source behind what a card says, sorted. */
export function citationKeys(rule: Rule, effects: readonly FilledEffect[]): readonly string[] {
  return sortedUnique([
    ...(rule.citations ?? []).map(({ key }) => key),
    ...effects.flatMap(({ effect }) => effect.citations),
  ]);
}

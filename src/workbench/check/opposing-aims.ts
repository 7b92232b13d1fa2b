import type { Finding, Rule, Rulebook } from '../../rulebook/types.js';
import { edgesFor, fires, speaks } from './check-reach.js';
import { isOpposite } from './directions.js';
import { possibleDirections } from './option-directions.js';
import type { Aim } from './sampled-hips.js';
import { searchState } from './search.js';

/**
 * What hips are made for: each rule firing, and between any two of these each pair of findings of two rules whose
 * options could point opposite ways. A pair that no state at the edges has both of is left out.
 */
export function opposingAims(rulebook: Rulebook): readonly Aim[] {
  const alone = rulebook.rules.map(fires);
  const pairs = opposablePairs(rulebook);
  const turns = Math.max(alone.length, pairs.length);
  return Array.from({ length: turns }, (_, turn) =>
    [alone, pairs].flatMap((aims): readonly Aim[] => {
      const aim = aims[turn % aims.length];
      return aim ? [aim] : [];
    }),
  ).flat();
}

interface Pointing {
  readonly rule: Rule;
  readonly finding: Finding;
}

function opposablePairs(rulebook: Rulebook): readonly Aim[] {
  const edges = edgesFor(rulebook.rules, rulebook);
  const pointing = rulebook.rules.flatMap((rule) =>
    rule.findings
      .filter((finding) => possibleDirections(finding, rule).length > 0)
      .map((finding): Pointing => ({ rule, finding })),
  );
  return pointing.flatMap((one, index) =>
    pointing.slice(index + 1).flatMap((other): readonly Aim[] => {
      if (one.rule === other.rule || !mayOppose(one, other)) return [];
      const aim = [...speaks(one.rule, one.finding), ...speaks(other.rule, other.finding)];
      return searchState(aim, edges).kind === 'state' ? [aim] : [];
    }),
  );
}

function mayOppose(one: Pointing, other: Pointing): boolean {
  const theirs = possibleDirections(other.finding, other.rule);
  return possibleDirections(one.finding, one.rule).some((mine) =>
    theirs.some((their) => isOpposite(mine, their)),
  );
}

import type { Rule, Rulebook } from '../../rulebook/types.js';
import type { PlacedRule } from './check-reach.js';
import { edgesFor, fires } from './check-reach.js';
import { leavesOf } from './edge-values.js';
import { faultsOf } from './finding.js';
import type { Fault } from './finding.js';
import type { Goal } from './search.js';
import { searchState } from './search.js';

/** Whether a rule adds nothing: another one speaks whenever it does, about the same, to the same readers, as loudly. */
export function checkShadows(rules: readonly PlacedRule[], rulebook: Rulebook): readonly Fault[] {
  return faultsOf('shadow', (report) => {
    for (const [index, { file, rule }] of rules.entries()) {
      const other = rules.find(
        (candidate, at) =>
          at !== index &&
          saysAsMuch(candidate.rule, rule) &&
          isImplied(rule, candidate.rule, rulebook) &&
          // Of two rules that are the same, one is told.
          !(at > index && saysAsMuch(rule, candidate.rule) && isImplied(candidate.rule, rule, rulebook)),
      );
      if (other)
        report(
          file,
          'when',
          'a rule that fires somewhere alone',
          `${other.rule.id} (${other.file}) fires whenever it does, about the same`,
        );
    }
  });
}

const LOUDNESS = ['info', 'warning', 'critical'] as const;

function saysAsMuch(other: Rule, rule: Rule): boolean {
  return (
    other.type === rule.type &&
    // A card and a line or page are told in different places: neither makes the other needless.
    other.tells === rule.tells &&
    other.intent === rule.intent &&
    rule.entries.every((entry) => other.entries.includes(entry)) &&
    LOUDNESS.indexOf(other.indicator) >= LOUDNESS.indexOf(rule.indicator) &&
    (isAboutTheSame(other, rule) || offersAll(other, rule))
  );
}

/** It asks about nothing that the rule does not ask about: the rule is the other one, restricted. */
function isAboutTheSame(other: Rule, rule: Rule): boolean {
  const asked = new Set(leavesOf(rule.when).map(({ fact }) => fact));
  return leavesOf(other.when).every(({ fact }) => asked.has(fact));
}

function offersAll(other: Rule, rule: Rule): boolean {
  const offered = new Set(offersOf(other));
  return offersOf(rule).every((text) => offered.has(text));
}

function offersOf({ findings }: Rule): readonly string[] {
  return findings.flatMap(({ options = [], checks = [], before = [], ready }) => [
    ...options,
    ...checks,
    ...before.map(({ says }) => says),
    ...(ready === undefined ? [] : [ready]),
  ]);
}

/** No state at the edges of both has the one firing and the other not. */
function isImplied(rule: Rule, other: Rule, rulebook: Rulebook): boolean {
  const silent: Goal = {
    oneOf: [
      [{ condition: other.appliesWhen, wanted: 'not-true' }],
      [{ condition: other.when, wanted: 'not-true' }],
    ],
  };
  const edges = edgesFor([rule, other], rulebook);
  return (
    searchState([...fires(rule), silent], edges).kind === 'none' &&
    searchState(fires(rule), edges).kind === 'state'
  );
}

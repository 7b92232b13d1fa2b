import type { Advisory } from '../../engine/evaluate.js';
import type { Explanation } from '../../engine/explanation.js';
import type { NamedCard, TreeDifference, TrialFailure } from '../report/report-types.js';
import type { Answer, Run } from './run-case.js';
import { askedText, foundText, standingLeaves } from './standing-leaves.js';
import type { StandingLeaf } from './standing-leaves.js';
import type { Verdict } from './verdict.js';

/** A failure with the whole tree of every rule it is about. */
export interface CaseFailure extends TrialFailure {
  readonly trees: readonly RuleTree[];
}

export interface RuleTree {
  readonly rule: string;
  readonly hip: string;
  readonly construct: string;
  readonly outcome: string;
  readonly appliesWhen?: Explanation;
  readonly when?: Explanation;
}

/** Tells a case that was not kept: which cards or outcome differ, and the comparisons that made them differ. */
export function failureOf({ trial, answer }: Run, verdict: Verdict): CaseFailure {
  const found = answer ? toldApart(verdict, answer) : [];
  return {
    patient: trial.name,
    hook: trial.hook,
    teaches: trial.teaches,
    missing: verdict.missing,
    unexpected: verdict.unexpected,
    differences: found.flatMap(({ differences }) => differences),
    trees: found.flatMap(({ trees }) => trees),
    ...(verdict.why !== undefined && { why: verdict.why }),
  };
}

interface ToldApart {
  readonly differences: readonly TreeDifference[];
  readonly trees: readonly RuleTree[];
}

function toldApart({ missing, unexpected, wrong }: Verdict, answer: Answer): readonly ToldApart[] {
  return [
    ...missing.map((card) => missingCard(card, answer)),
    ...unexpected.map((card) => unexpectedCard(card, answer)),
    ...wrong.map(({ expected, found, advisory }) => {
      if (!advisory) return { differences: [], trees: [] };
      return withTree(advisory, [outcomeLine(advisory, expected, found), ...towards(advisory, expected)]);
    }),
  ];
}

function missingCard(card: NamedCard, answer: Answer): ToldApart {
  const advisories = advisoriesOf(card, answer);
  if (advisories.length === 0) {
    const found = answer.hips.map(({ hip, construct }) => `${hip} ${construct}`).join(', ');
    const difference = {
      rule: card.rule,
      hip: card.hip,
      construct: '',
      path: '',
      expected: `${card.rule} to be judged for this hip`,
      found: found === '' ? 'no hip was looked at' : `only ${found}`,
    };
    return { differences: [difference], trees: [] };
  }
  return joined(
    advisories.map((advisory) => {
      const found = advisory.outcome === 'fires' ? withoutCard(advisory, answer) : advisory.outcome;
      return withTree(advisory, [
        outcomeLine(advisory, `a card (${card.indicator})`, found),
        ...towards(advisory, 'fires'),
      ]);
    }),
  );
}

function withoutCard(advisory: Advisory, answer: Answer): string {
  const kept = answer.kept.find(({ card }) => card.rule === advisory.rule && card.hip === advisory.hip);
  if (kept) return `fires, but the card was kept back (${kept.why})`;
  const shown = answer.cards.find(({ source }) => source.topic.code === advisory.rule);
  if (!shown) return 'fires, but not at this hook, or the hip is being treated now';
  const { hip } = shown.extension['example.kotyle.advisory'];
  return `fires with another card (${shown.indicator}, ${String(hip)})`;
}

function unexpectedCard(card: NamedCard, answer: Answer): ToldApart {
  const firing = advisoriesOf(card, answer).filter(({ outcome }) => outcome === 'fires');
  return joined(
    firing.map((advisory) =>
      withTree(advisory, [
        outcomeLine(advisory, 'no card', `fires, ${card.indicator}`),
        ...towards(advisory, 'does-not-fire'),
      ]),
    ),
  );
}

function advisoriesOf(card: NamedCard, { hips }: Answer): readonly Advisory[] {
  return hips
    .filter(({ hip }) => card.hip === 'both' || card.hip === 'any' || hip === card.hip)
    .flatMap(({ advisories }) => advisories.filter(({ rule }) => rule === card.rule));
}

function outcomeLine(advisory: Advisory, expected: string, found: string): TreeDifference {
  const { rule, hip, construct } = advisory;
  return { rule, hip, construct, path: '', expected, found };
}

/** The comparisons that would have to be otherwise for the outcome to be the one expected. */
function towards(advisory: Advisory, expected: string): readonly TreeDifference[] {
  const { appliesWhen, when, rule, hip, construct } = advisory;
  if (!appliesWhen || !when) return [];
  return standing(appliesWhen, when, expected).map(({ path, leaf, wanted }) => ({
    rule,
    hip,
    construct,
    path,
    expected: `${askedText(leaf)} to be ${wanted}`,
    found: foundText(leaf),
  }));
}

function standing(appliesWhen: Explanation, when: Explanation, expected: string): readonly StandingLeaf[] {
  switch (expected) {
    case 'fires':
      return [...standingLeaves(appliesWhen, 'true', 'appliesWhen'), ...standingLeaves(when, 'true', 'when')];
    case 'does-not-fire':
      return [
        ...standingLeaves(appliesWhen, 'true', 'appliesWhen'),
        ...standingLeaves(when, 'false', 'when'),
      ];
    case 'not-applicable':
      return standingLeaves(appliesWhen, 'false', 'appliesWhen');
    default:
      return [];
  }
}

function withTree(advisory: Advisory, differences: readonly TreeDifference[]): ToldApart {
  const { rule, hip, construct, outcome, appliesWhen, when } = advisory;
  const tree = {
    rule,
    hip,
    construct,
    outcome,
    ...(appliesWhen && { appliesWhen }),
    ...(when && { when }),
  };
  return { differences, trees: [tree] };
}

function joined(parts: readonly ToldApart[]): ToldApart {
  return {
    differences: parts.flatMap(({ differences }) => differences),
    trees: parts.flatMap(({ trees }) => trees),
  };
}

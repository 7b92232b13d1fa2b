import { sortedUnique } from '../base/order.js';
import type { HipEvaluation } from '../engine/evaluate.js';
import { answersFor, cardUuid, constructTitle, hipTitle, shorten, RULE_SYSTEM } from './card-types.js';
import type { Card, CardContext } from './card-types.js';

/** A set that was not wholly read, and how many rules it left undecided. */
export interface DataGap {
  readonly sets: readonly { readonly key: string; readonly why: string }[];
  readonly undecided: readonly string[];
  readonly broken: readonly string[];
}

/** Which missing sets could have changed an outcome of this entry; undefined when none could and nothing is broken. */
export function findDataGap(
  hips: readonly HipEvaluation[],
  speaking: ReadonlySet<string>,
  sets: Readonly<Record<string, { readonly status: string; readonly why?: string }>>,
): DataGap | undefined {
  const missing = new Set<string>();
  const undecided = new Set<string>();
  const broken = new Set<string>();
  for (const hip of hips) {
    for (const advisory of hip.advisories.filter(
      ({ rule, outcome }) => speaking.has(rule) && outcome === 'cannot-tell',
    )) {
      if (advisory.broken) broken.add(advisory.rule);
      const unread = advisory.needs.flatMap((id) => hip.facts.get(id)?.setsMissing ?? []);
      if (unread.length > 0) undecided.add(advisory.rule);
      for (const key of unread) missing.add(key);
    }
  }
  if (missing.size === 0 && broken.size === 0) return undefined;
  const gaps = sortedUnique(missing).map((key) => ({ key, why: sets[key]?.why ?? 'not read' }));
  return { sets: gaps, undecided: sortedUnique(undecided), broken: sortedUnique(broken) };
}

/** The one card of an answer that speaks of missing data. */
export function dataGapCard(gap: DataGap, hips: readonly HipEvaluation[], context: CardContext): Card {
  const { about } = context.rulebook;
  const titles = gap.sets.map(({ key, why }) => `${about.sets[key] ?? key} (${why})`);
  const broken = gap.broken.map((id) => context.rulebook.rules.find((rule) => rule.id === id)?.title ?? id);
  const [first] = hips;
  const subject =
    hips.length === 1 && first
      ? `${hipTitle(first.hip)}, ${constructTitle(first.construct)}`
      : 'Planned hip operation';
  const what =
    titles.length > 0
      ? `${about.dataGap.summary}: ${gap.sets.map(({ key }) => about.sets[key] ?? key).join(', ')}`
      : about.dataGap.broken;
  const found = [
    ...(titles.length > 0 ? [`${about.dataGap.found}: ${titles.join('; ')}`] : []),
    ...(broken.length > 0 ? [`${about.dataGap.broken}: ${broken.join('; ')}`] : []),
  ];
  const undecided = gap.undecided.map(
    (id) => context.rulebook.rules.find((rule) => rule.id === id)?.title ?? id,
  );
  const uuid = cardUuid('data-gap', first?.hip ?? 'unknown', first?.construct ?? 'planned', context);
  return {
    uuid,
    ...answersFor(uuid, 'check', context),
    summary: shorten(`${subject}: ${what}`),
    detail: [
      `**Found** ${found.join('; ')}.`,
      `**To check** ${about.dataGap.checks.join(' · ')}.`,
      `**Sure?** ${about.dataGap.sure}.`,
      `**Not known** ${notKnown(undecided, about.dataGap.undecided)}.`,
      `*${about.deferral}*`,
      about.label,
    ].join('\n\n'),
    indicator: 'info',
    source: {
      label: about.label,
      topic: { system: RULE_SYSTEM, code: 'data-gap', display: about.dataGap.summary },
    },
    extension: {
      'example.kotyle.advisory': {
        evaluation: context.evaluation(),
        rule: 'data-gap',
        rulebook: about.version,
        rulebookHash: context.rulebook.hash,
        engine: context.engine,
        ...(gap.sets.length > 0 && { sets: gap.sets.map(({ key, why }) => ({ id: key, why })) }),
        ...(gap.undecided.length > 0 && { undecided: gap.undecided }),
        ...(gap.broken.length > 0 && { broken: gap.broken }),
        evaluatedAt: context.evaluatedAt,
      },
    },
  };
}

/** How many rules were left undecided and the first of them; the extension names all. */
function notKnown(titles: readonly string[], undecided: string): string {
  if (titles.length === 0) return 'what these would have said';
  const more = titles.length > 1 ? `, among them "${titles[0] ?? ''}"` : `: "${titles[0] ?? ''}"`;
  return `${titles.length} ${undecided}${more}`;
}

import { contentHash } from '../base/hash.js';
import { sortedUnique } from '../base/order.js';
import type { AdvisoryCard } from './card.js';
import { sortByHead } from './card-order.js';
import { withLines } from './lines.js';
import { RULE_SYSTEM, answersFor, cardUuid, constructTitle, shorten } from './card-types.js';
import type { Card, CardContext } from './card-types.js';

/** What an answer shows, and what of it was kept back. */
export interface AnswerCards {
  readonly cards: readonly Card[];
  /** Names what the ceiling left out; it comes after everything else. */
  readonly more: readonly Card[];
  /** Cards not shown although their rule fires, and why. */
  readonly kept: readonly { readonly card: AdvisoryCard; readonly why: 'acknowledged' | 'ceiling' }[];
}

/** What decides which cards are shown. */
export interface ShowingRules {
  readonly ceiling: number;
  readonly acknowledged: ReadonlySet<string>;
  /** Rules that repeat however often they were acknowledged: about the side or the person. */
  readonly repeating: ReadonlySet<string>;
  /** What is worth a line on a card and no card of its own. */
  readonly lines: readonly AdvisoryCard[];
}

/**
 * Chooses the advisories an answer shows: one card where both hips have the same to say, none that was acknowledged
 * and has not changed, and no more than the ceiling besides critical ones; what the ceiling leaves out is named.
 */
export function answerCards(
  rendered: readonly AdvisoryCard[],
  rules: ShowingRules,
  context: CardContext,
): AnswerCards {
  const joined = joinHips(rendered, context);
  const isKnown = (one: AdvisoryCard): boolean =>
    rules.acknowledged.size > 0 &&
    rules.acknowledged.has(one.acknowledgement) &&
    !rules.repeating.has(one.rule);
  const news = joined.filter((one) => !isKnown(one));
  const order = sortByHead(news, context.rulebook.about.first);
  const critical = order.filter(({ indicator }) => indicator === 'critical');
  const others = order.filter(({ indicator }) => indicator !== 'critical');
  const shown = new Set([...critical, ...others.slice(0, rules.ceiling)]);
  const left = news.filter((one) => !shown.has(one));
  const more = left.length > 0 ? [moreCard(others.slice(rules.ceiling), context)] : [];
  return {
    cards: withLines([...shown], rules.lines, context.rulebook),
    more,
    kept: [
      ...joined.filter(isKnown).map((card) => ({ card, why: 'acknowledged' as const })),
      ...left.map((card) => ({ card, why: 'ceiling' as const })),
    ],
  };
}

/** Where both hips have the same to say, word for word, one card says it. */
function joinHips(rendered: readonly AdvisoryCard[], context: CardContext): readonly AdvisoryCard[] {
  const done = new Set<AdvisoryCard>();
  return rendered.flatMap((one) => {
    if (done.has(one)) return [];
    const same = rendered.filter((other) => other !== one && saysTheSame(one, other));
    for (const other of same) done.add(other);
    return [same.length === 0 ? one : joinedCard([one, ...same], context)];
  });
}

function saysTheSame(a: AdvisoryCard, b: AdvisoryCard): boolean {
  return (
    a.rule === b.rule &&
    a.construct === b.construct &&
    a.hip !== b.hip &&
    a.message === b.message &&
    a.card.detail === b.card.detail
  );
}

function joinedCard(cards: readonly AdvisoryCard[], context: CardContext): AdvisoryCard {
  const [first] = cards;
  if (!first) throw new Error('no card to join');
  const { rule, construct, message, card, about, intent } = first;
  const summary =
    about === 'patient' ? card.summary : shorten(`Both hips, ${constructTitle(construct)}: ${message}`);
  const acknowledgement = contentHash(sortedUnique(cards.map((one) => one.acknowledgement)));
  const uuid = cardUuid(rule, 'both', construct, context);
  return {
    ...first,
    summary,
    acknowledgement,
    isOfBoth: true,
    card: {
      ...card,
      uuid,
      summary,
      ...answersFor(uuid, intent, context),
      extension: {
        'example.kotyle.advisory': {
          ...card.extension['example.kotyle.advisory'],
          hip: 'both',
          acknowledgement,
        },
      },
    },
  };
}

/** Names what the ceiling left out, so that nothing found is lost in silence. */
function moreCard(left: readonly AdvisoryCard[], context: CardContext): Card {
  const { about } = context.rulebook;
  const { moreAdvisories } = about;
  const uuid = cardUuid('more-advisories', 'any', 'any', context);
  const lines = left.map(({ summary }) => summary);
  return {
    uuid,
    summary: shorten(`This patient: ${moreAdvisories.summary} (${left.length})`),
    detail: [
      `**Found** ${moreAdvisories.found}: ${lines.join(' · ')}.`,
      `**To check** ${moreAdvisories.checks.join(' · ')}.`,
      `**Sure?** ${moreAdvisories.sure}.`,
      `**Not known** ${moreAdvisories.notKnown}.`,
      `*${about.deferral}*`,
      about.label,
    ].join('\n\n'),
    indicator: 'info',
    source: {
      label: about.label,
      topic: { system: RULE_SYSTEM, code: 'more-advisories', display: moreAdvisories.summary },
    },
    ...answersFor(uuid, 'check', context),
    extension: {
      'example.kotyle.advisory': {
        evaluation: context.evaluation(),
        rule: 'more-advisories',
        rulebook: about.version,
        rulebookHash: context.rulebook.hash,
        engine: context.engine,
        rules: left.map(({ rule }) => rule),
        evaluatedAt: context.evaluatedAt,
      },
    },
  };
}

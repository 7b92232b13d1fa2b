import { cardsAtShare, percentText } from '../report/burden-figures.js';
import type { Rulebook } from '../../rulebook/types.js';
import type { BurdenRun, ProfileBurden } from './burden-schema.js';

type HookFigures = ProfileBurden['hooks'][number];

/** One limit of what readers are asked to bear, and whether it holds. */
export interface BurdenLimit {
  readonly says: string;
  readonly found: string;
  readonly holds: boolean;
}

/** What an ordinary booking may cost attention: ours, no source. */
const AT_BOOKING = { noCard: 0.6, median: 0, at95: 2, warned: 0.05 } as const;
/** What a hip with everything measured may. */
const WHEN_PLANNED = { median: 2 } as const;

/** Every limit on the number of cards, beside what was found. */
export function burdenLimits(
  { recordLike, fullyPlanned }: BurdenRun,
  { about: { ceilings } }: Rulebook,
): readonly BurdenLimit[] {
  const booking = figuresAt('appointment-book', recordLike);
  const signing = figuresAt('order-sign', fullyPlanned);
  const noCard = booking.callsByCards[0] ?? 0;
  const { calls, callsWithWarning } = booking;
  return [
    {
      says: `booking, record-like: at least ${100 * AT_BOOKING.noCard} % without a card`,
      found: percentText(noCard, calls),
      holds: noCard >= AT_BOOKING.noCard * calls,
    },
    atMost('booking, record-like: median', AT_BOOKING.median, atShare(booking, 0.5)),
    atMost('booking, record-like: 95th percentile', AT_BOOKING.at95, atShare(booking, 0.95)),
    {
      says: `booking, record-like: at most ${100 * AT_BOOKING.warned} % with a warning or worse`,
      found: percentText(callsWithWarning, calls),
      holds: callsWithWarning <= AT_BOOKING.warned * calls,
    },
    atMost('order being signed, fully planned: median', WHEN_PLANNED.median, atShare(signing, 0.5)),
    ...[recordLike, fullyPlanned].flatMap(({ hooks }, profile) =>
      hooks.map(({ hook, mostUncritical }) =>
        atMost(
          `${hook}, ${profile === 0 ? 'record-like' : 'fully planned'}: cards of rules in one answer, critical ones apart,`,
          ceilings[hook],
          mostUncritical,
        ),
      ),
    ),
  ];
}

function atMost(what: string, limit: number, found: number): BurdenLimit {
  return { says: `${what} at most ${limit}`, found: String(found), holds: found <= limit };
}

function figuresAt(hook: HookFigures['hook'], { hooks }: ProfileBurden): HookFigures {
  const found = hooks.find((one) => one.hook === hook);
  if (!found) throw new TypeError(`no figures at ${hook}`);
  return found;
}

/** The number of cards that a share of calls does not exceed. */
export function atShare(figures: HookFigures, share: number): number {
  return cardsAtShare(figures, share) ?? 0;
}

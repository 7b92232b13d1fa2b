import { outcomeLines } from './outcome-lines.js';
import { HOOK_TITLES } from '../../render/words.js';
import { cardsAtShare, percentText } from './burden-figures.js';
import type { CohortResult, HookBurden } from './report-types.js';

const MOST_LINES = 15;

/** A cohort for a terminal. */
export function cohortText(result: CohortResult, deferral: string): string {
  const { about, patients, withoutHip, unreadable, burden, coverage, missing } = result;
  const lines = [
    `Cohort: ${about.over}`,
    `Kotyle rulebook ${about.rulebook.version} (${about.rulebook.status}), engine ${about.engine}, as of ${about.at}`,
    `${patients} patients, ${withoutHip} without a hip replacement to speak of, ${unreadable.length} faults`,
    '',
    ...burden.flatMap(burdenLines),
    ...outcomeLines(coverage),
    '',
    'Missing most, by the outcomes it would help to settle (alone):',
    ...missing.slice(0, MOST_LINES).map(({ title, outcomes, alone }) => `  ${outcomes} (${alone})  ${title}`),
    ...(missing.length > MOST_LINES ? [`  and ${missing.length - MOST_LINES} more`] : []),
    ...(unreadable.length === 0 ? [] : ['', 'Could not be evaluated:']),
    ...unreadable.slice(0, MOST_LINES).map(({ where, why }) => `  ${where}: ${why}`),
    ...(unreadable.length > MOST_LINES ? [`  and ${unreadable.length - MOST_LINES} more`] : []),
    '',
    deferral,
  ];
  return `${lines.join('\n')}\n`;
}

function burdenLines(burden: HookBurden): readonly string[] {
  const { hook, calls, callsByCards, callsWithWarning, cards, cardsByRule } = burden;
  if (calls === 0) return [`${HOOK_TITLES[hook]}: no calls`, ''];
  const spoken = cardsByRule.filter((rule) => rule.cards > 0);
  return [
    `${HOOK_TITLES[hook]}: ${calls} calls; no card ${percentText(callsByCards[0] ?? 0, calls)}, median ${cardsAtShare(burden, 0.5) ?? 0}, 95th percentile ${cardsAtShare(burden, 0.95) ?? 0}, with a warning or worse ${percentText(callsWithWarning, calls)}`,
    `  cards: info ${cards.info}, warning ${cards.warning}, critical ${cards.critical}`,
    ...spoken.map((rule) => `  ${String(rule.cards).padStart(6)}  ${rule.indicator}  ${rule.rule}`),
    '',
  ];
}

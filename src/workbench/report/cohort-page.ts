import { HOOK_TITLES } from '../../render/words.js';
import { bars } from './bars.js';
import { cardsAtShare, percentText } from './burden-figures.js';
import { markup } from '../../render/html.js';
import type { Html } from '../../render/html.js';
import { matrixHtml } from './matrix-html.js';
import { page } from './page.js';
import type { Section } from './page.js';
import { aboutLines, figuresHtml, footerLines } from './report-head.js';
import type { CohortResult, HookBurden, MissingFact, Unreadable } from './report-types.js';
import { table } from './table.js';
import type { NumberCell } from './table.js';

/** Most bars in one picture; the table beside has all. */
const MOST_BARS = 15;

/** A cohort as one HTML file. */
export function cohortPage(result: CohortResult, deferral: string): string {
  const { about, patients, withoutHip, unreadable, burden, coverage, missing } = result;
  return page({
    kind: 'Kotyle cohort report',
    title: `${patients} ${patients === 1 ? 'patient' : 'patients'}`,
    about: aboutLines(about),
    deferral,
    sections: [
      {
        id: 'overview',
        title: 'Overview',
        body: overviewHtml({ patients, withoutHip, faults: unreadable.length }, burden),
      },
      ...burden.map(burdenSection),
      {
        id: 'outcomes',
        title: 'Outcomes of every rule',
        body: matrixHtml(coverage, 'Outcomes by rule, once for each hip, construct and hook evaluated'),
      },
      ...(missing.length === 0 ? [] : [missingSection(missing)]),
      ...(unreadable.length === 0 ? [] : [unreadableSection(unreadable)]),
    ],
    footer: footerLines(about),
  });
}

function overviewHtml(
  {
    patients,
    withoutHip,
    faults,
  }: { readonly patients: number; readonly withoutHip: number; readonly faults: number },
  burden: readonly HookBurden[],
): Html {
  return markup`${figuresHtml([
    ['patients', patients],
    ['without a hip replacement to speak of', withoutHip],
    ['faults', faults],
  ])}
<p>No card is not clearance: a patient without measures has few cards because little can be told.</p>
${table({
  caption: 'Cards per call, by hook',
  columns: ['Hook', 'Calls', 'No card', 'Median', '95th percentile', 'With a warning or worse'],
  rows: burden.map((one) => [
    HOOK_TITLES[one.hook],
    { number: one.calls },
    percentCell(one.callsByCards[0] ?? 0, one.calls),
    shareCell(one, 0.5),
    shareCell(one, 0.95),
    percentCell(one.callsWithWarning, one.calls),
  ]),
})}`;
}

function percentCell(part: number, whole: number): NumberCell {
  return { number: whole === 0 ? -1 : part / whole, shown: percentText(part, whole) };
}

function shareCell(burden: HookBurden, share: number): NumberCell {
  const cards = cardsAtShare(burden, share);
  return cards === undefined ? { number: -1, shown: '–' } : { number: cards };
}

function burdenSection(burden: HookBurden): Section {
  const { hook, calls, callsByCards, cards, cardsByRule } = burden;
  const spoke = cardsByRule.filter((rule) => rule.cards > 0);
  const pictures = markup`<h3>Calls by how many cards they had</h3>
${bars({
  id: `${hook}-calls`,
  title: `${HOOK_TITLES[hook]}: calls by number of cards`,
  description: callsByCards.map((count, index) => `${cardsText(index)}: ${count} calls`).join('; '),
  bars: callsByCards.map((count, index) => ({
    label: cardsText(index),
    parts: [{ value: count, look: 'bar-plain', name: cardsText(index) }],
    said: `${count} (${percentText(count, calls)})`,
  })),
})}
<h3>Cards by severity and rule</h3>
<p>Cards in all: info ${cards.info}, warning ${cards.warning}, critical ${cards.critical}.</p>
${spoke.length === 0 ? undefined : cardBars(burden)}`;
  return {
    id: hook,
    title: `${HOOK_TITLES[hook]}: ${calls} calls`,
    body: markup`${calls === 0 ? markup`<p>No calls: nobody in this cohort has anything for this hook.</p>` : pictures}
${table({
  caption: `${HOOK_TITLES[hook]}: cards by rule`,
  columns: ['Rule', 'Id', 'Severity', 'Cards', 'Of calls'],
  rows: cardsByRule.map(({ rule, title, indicator, cards: count }) => [
    title,
    markup`<code>${rule}</code>`,
    indicator,
    { number: count },
    percentText(count, calls),
  ]),
})}`,
  };
}

function cardBars({ hook, calls, cardsByRule }: HookBurden): Html {
  const spoke = cardsByRule.filter((rule) => rule.cards > 0).slice(0, MOST_BARS);
  return bars({
    id: `${hook}-cards`,
    title: `${HOOK_TITLES[hook]}: cards by rule, colored by severity`,
    description: spoke
      .map(({ rule, indicator, cards }) => `${rule}, ${indicator}: ${cards} cards`)
      .join('; '),
    bars: spoke.map(({ rule, indicator, cards }) => ({
      label: rule,
      parts: [{ value: cards, look: `bar-${indicator}`, name: `${rule}, ${indicator}` }],
      said: `${cards} ${indicator} (${percentText(cards, calls)})`,
    })),
  });
}

function cardsText(count: number): string {
  return count === 0 ? 'no card' : count === 1 ? '1 card' : `${count} cards`;
}

function missingSection(missing: readonly MissingFact[]): Section {
  const shown = missing.slice(0, MOST_BARS);
  return {
    id: 'missing',
    title: 'Missing most, and what it would settle',
    body: markup`<p>Outcomes “cannot tell” that name a fact: knowing it would help to settle them, and those in the stronger color it would settle alone.</p>
${bars({
  id: 'missing-bars',
  title: 'Facts missing most, by outcomes they would help to settle',
  description: shown.map(({ title, outcomes, alone }) => `${title}: ${outcomes}, alone ${alone}`).join('; '),
  bars: shown.map(({ title, outcomes, alone }) => ({
    label: title,
    parts: [
      { value: alone, look: 'share-4', name: `${title}, alone` },
      { value: outcomes - alone, look: 'share-2', name: `${title}, with others` },
    ],
    said: `${outcomes} (alone ${alone})`,
  })),
})}
${table({
  caption: 'Facts missing, with the rules that ask for them',
  columns: ['Fact', 'Outcomes', 'Alone', 'Patients', 'Rules'],
  rows: missing.map(({ title, outcomes, alone, patients, rules }) => [
    title,
    { number: outcomes },
    { number: alone },
    { number: patients },
    rules.join(', '),
  ]),
})}`,
  };
}

function unreadableSection(unreadable: readonly Unreadable[]): Section {
  return {
    id: 'faults',
    title: 'Could not be evaluated',
    body: table({
      caption: 'Members of the cohort that could not be evaluated, or not wholly',
      columns: ['Where', 'Why'],
      rows: unreadable.map(({ where, why }) => [where, why]),
    }),
  };
}

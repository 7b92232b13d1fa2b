import { formatDate } from '../../base/dates.js';
import type { Outcome } from '../../engine/evaluate.js';
import type { ReadableHip, ReadableRule } from '../evaluate/readable-hip.js';
import type { ReadableCitation, ReadableEvaluation, ReadableHook } from '../evaluate/readable.js';
import { HOOK_TITLES, OUTCOMES, OUTCOME_TITLES } from '../../render/words.js';
import { cardHtml, sameCardHtml } from './card-html.js';
import { markup } from '../../render/html.js';
import type { Html } from '../../render/html.js';
import { page } from './page.js';
import type { Section } from './page.js';
import { table } from './table.js';
import { treeHtml } from './tree-html.js';

/** One patient's evaluation as one HTML file. `record` says what was read: the whole of a Bundle, or a server. */
export function evaluationPage(evaluation: ReadableEvaluation, record: string): string {
  const { patientId, now, engine, rulebook, site, hooks, hips, citations, notRead } = evaluation;
  return page({
    kind: 'Kotyle evaluation',
    title: `Patient ${patientId}`,
    about: [
      markup`As of ${formatDate(now)}, ${now.slice(11, 16)} UTC. ${record}`,
      markup`${rulebook.label}${site ? `, site ${site.id} ${site.version}` : ''}`,
    ],
    deferral: rulebook.deferral,
    sections: [
      ...hooks.map(hookSection),
      ...hips.map((hip) => hipSection(hip, new Set(citations.map(({ id }) => id)))),
      ...(notRead.length === 0 ? [] : [notReadSection(notRead)]),
      ...(citations.length === 0 ? [] : [sourcesSection(citations)]),
    ],
    footer: [
      `${rulebook.label}, ${rulebook.hash}; engine ${engine}.`,
      ...hooks.map(({ hook, evaluation: id }) => `Evaluation at ${hook}: ${id}.`),
    ],
  });
}

function hookSection({ hook, cards, pageOnly, kept }: ReadableHook): Section {
  const count = cards.length === 0 ? 'no card' : cards.length === 1 ? '1 card' : `${cards.length} cards`;
  const none = markup`<p>No card is not clearance: what could not be told stands below, with what is missing.</p>`;
  const left = markup`<p class="quiet">Left out of the answer: ${kept.join(' · ')}</p>`;
  const page = markup`<h3>On the page only, on no card</h3>${pageOnly.map((card) => cardHtml(card, 'page only'))}`;
  return {
    id: hook,
    title: `${HOOK_TITLES[hook]}: ${count}`,
    body: markup`${cards.length === 0 ? none : cards.map(({ card, sameAs }) => (sameAs === undefined ? cardHtml(card) : sameCardHtml(card, sameAs)))}${pageOnly.length === 0 ? undefined : page}${kept.length === 0 ? undefined : left}`,
  };
}

function hipSection(hip: ReadableHip, cited: ReadonlySet<string>): Section {
  const id = `${hip.hip}-${hip.construct}`;
  return {
    id,
    title: hip.title,
    body: markup`<p class="quiet">What each rule found at ${HOOK_TITLES[hip.hook].toLowerCase()} (${hip.hook}), which of the hooks asked reads most. A rule opens to its tree: every branch with what was found, the limit and where the value came from.</p>
${countsHtml(hip)}
${OUTCOMES.map((outcome) => outcomeHtml(outcome, hip, cited))}
${otherwiseHtml(hip)}${missingHtml(hip)}${factsHtml(hip)}${computedHtml(hip)}${findingsHtml(hip)}`,
  };
}

function countsHtml({ rules }: ReadableHip): Html {
  const counts = OUTCOMES.map(
    (outcome) =>
      markup`<div><dt>${OUTCOME_TITLES[outcome]}</dt><dd>${rules.filter((rule) => rule.outcome === outcome).length}</dd></div>`,
  );
  return markup`<dl class="figures">${counts}</dl>`;
}

function outcomeHtml(outcome: Outcome, { rules }: ReadableHip, cited: ReadonlySet<string>): Html | undefined {
  const mine = rules.filter((rule) => rule.outcome === outcome);
  if (mine.length === 0) return undefined;
  return markup`<h3>${headingOf(outcome)}: ${mine.length} ${mine.length === 1 ? 'rule' : 'rules'}</h3>
${mine.map((rule) => ruleHtml(rule, cited))}`;
}

function headingOf(outcome: Outcome): string {
  const title = OUTCOME_TITLES[outcome];
  return title.charAt(0).toUpperCase() + title.slice(1);
}

function ruleHtml(rule: ReadableRule, cited: ReadonlySet<string>): Html {
  const {
    title,
    says,
    needs,
    broken,
    appliesWhen,
    when,
    outcome,
    numbers,
    assumptions,
    causes,
    citations,
    certainty,
  } = rule;
  const sources = citations.filter((key) => cited.has(key));
  return markup`<details><summary>${title}${needs.length === 0 ? undefined : markup` <span class="quiet">(missing: ${needs.join(', ')})</span>`}</summary>
${broken ? markup`<p><strong>Could not be evaluated: the rule or a computation it needs is broken.</strong></p>` : undefined}<p>${says}</p>
${numbers.length === 0 ? undefined : markup`<p>Numbers its card shows: ${numbers.join('; ')}</p>`}${assumptions.length === 0 ? undefined : markup`<p>Assumed: ${assumptions.join('; ')}</p>`}${causes.length === 0 ? undefined : markup`<h4>What may be behind it</h4><ul>${causes.map((cause) => markup`<li>${cause}</li>`)}</ul>`}${appliesWhen ? markup`<h4>Applies when</h4>${treeHtml(appliesWhen)}` : undefined}${when && outcome !== 'not-applicable' ? markup`<h4>Fires when</h4>${treeHtml(when)}` : undefined}<p class="quiet">Certainty: ${certainty}</p>
<p class="quiet"><code>${rule.rule}</code> ${rule.version}${sources.length === 0 ? undefined : markup` · sources: ${sources.map((key, index) => markup`${index === 0 ? '' : ', '}<a href="#source-${key}">${key}</a>`)}`}</p>
</details>
`;
}

function otherwiseHtml({ otherwise }: ReadableHip): Html | undefined {
  if (otherwise.length === 0) return undefined;
  return markup`<h3>Otherwise at another hook, which reads other sets</h3>
<ul>${otherwise.map(({ rule, hook, outcome }) => markup`<li><code>${rule}</code> at ${HOOK_TITLES[hook].toLowerCase()}: ${OUTCOME_TITLES[outcome]}</li>`)}</ul>`;
}

function missingHtml({ title, missing }: ReadableHip): Html | undefined {
  if (missing.length === 0) return undefined;
  return markup`<h3>Missing, and what it would settle</h3>
${table({
  caption: `${title}: facts not known that rules ask for`,
  columns: ['Fact', 'Outcomes it would help to settle', 'Alone', 'Rules'],
  rows: missing.map(({ title: name, rules, alone }) => [
    name,
    { number: rules.length },
    { number: alone.length },
    rules.join(', '),
  ]),
})}`;
}

function factsHtml({ title, facts }: ReadableHip): Html | undefined {
  if (facts.length === 0) return undefined;
  return markup`<h3>Facts</h3>
${table({
  caption: `${title}: facts found, and those asked for and not known`,
  columns: ['Fact', 'Value', 'Where from', 'Doubts'],
  rows: facts.map(({ title: name, value, from, doubts }) => [name, value, from, doubts.join('; ')]),
})}`;
}

function computedHtml({ title, computed }: ReadableHip): Html | undefined {
  if (computed.length === 0) return undefined;
  return markup`<h3>Computed numbers</h3>
${table({
  caption: `${title}: numbers computed, with what they were computed from and assumed`,
  columns: ['Number', 'Value', 'From', 'Assumed, or missing'],
  rows: computed.map(({ title: name, value, inputs, doubts }) => [name, value, inputs, doubts.join('; ')]),
})}`;
}

function findingsHtml({ findings }: ReadableHip): Html | undefined {
  if (findings.length === 0) return undefined;
  return markup`<h3>Wrong with the record</h3>
<ul>${findings.map(({ text, from }) => markup`<li>${text}${from.length === 0 ? '' : ` (${from.join(', ')})`}</li>`)}</ul>`;
}

function notReadSection(notRead: readonly string[]): Section {
  return {
    id: 'not-read',
    title: 'Not wholly read, or not used',
    body: markup`<ul>${notRead.map((line) => markup`<li>${line}</li>`)}</ul>`,
  };
}

function sourcesSection(citations: readonly ReadableCitation[]): Section {
  return {
    id: 'sources',
    title: 'Sources',
    body: markup`<p class="quiet">Of the rules that fire, do not fire or cannot tell; with how far each was read.</p>
<ul class="sources">${citations.map(({ id, text, readAt, doi }) => markup`<li id="source-${id}">${text}${doi === undefined ? undefined : markup`. doi:${doi}`} <span class="quiet">(${readAt})</span></li>`)}</ul>`,
  };
}

import { markup } from '../../render/html.js';
import type { Html } from '../../render/html.js';
import type { Section } from '../report/page.js';
import { table } from '../report/table.js';
import type { Cell } from '../report/table.js';
import type { MissingFact } from '../report/report-types.js';
import type { Readiness, RuleFigures } from './readiness-types.js';
import { shareCell } from './share-cell.js';

/** How often each rule fires, by three denominators. */
export function rulesSection({ rules }: Readiness): Section {
  const never = rules.filter(({ outcomes }) => outcomes.fires === 0).length;
  const told = rules.filter(({ tells }) => tells !== 'page');
  return {
    id: 'rules',
    title: 'How often each rule fires',
    body: markup`<p>Over the calls of the hooks at which a rule is asked: of all of them, of those about a hip replacement, and of the hips in these. ${never} of ${rules.length} rules fired on nobody. A rule that may speak does so only where its service may.</p>
${rulesHtml('Rules with a card or a line on one', told)}
${rulesHtml(
  'Rules told on the page only, never on a card',
  rules.filter(({ tells }) => tells === 'page'),
)}`,
  };
}

function rulesHtml(caption: string, rules: readonly RuleFigures[]): Html {
  const fired = [...rules].sort((a, b) => b.outcomes.fires - a.outcomes.fires);
  return table({
    caption,
    columns: ['Rule', 'Severity', 'State', 'Calls', 'Recognised', 'Hips', 'Cannot tell', 'Cards'],
    rows: fired.map(ruleRow),
  });
}

function ruleRow(figures: RuleFigures): readonly Cell[] {
  const { rule, title, indicator, tells, state, calls, recognised, hips, outcomes } = figures;
  return [
    markup`${title}<br><code>${rule}</code>`,
    tells === 'line' ? 'a line' : indicator,
    state,
    shareCell(figures.callsFiring, calls),
    shareCell(figures.callsFiring, recognised),
    shareCell(outcomes.fires, hips),
    shareCell(outcomes['cannot-tell'], hips),
    { number: figures.cards },
  ];
}

/** What is missing most, and how many outcomes it would settle. */
export function missingSection(missing: readonly MissingFact[]): Section {
  return {
    id: 'missing',
    title: 'What the rules ask for and do not find',
    body: markup`<p>Outcomes “cannot tell” by the fact they ask for; where a fact is all that is missing, recording it would settle the outcome. Every rule counts, at every hook.</p>
${table({
  caption: 'Facts missing, by outcomes they leave open',
  columns: ['Fact', 'Outcomes', 'It alone', 'Members', 'Rules'],
  rows: missing.map(({ title, outcomes, alone, patients, rules }) => [
    title,
    { number: outcomes },
    { number: alone },
    { number: patients },
    { number: rules.length },
  ]),
})}`,
  };
}

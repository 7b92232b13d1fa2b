import { OUTCOMES, OUTCOME_TITLES } from '../../render/words.js';
import { markup } from '../../render/html.js';
import type { Html } from '../../render/html.js';
import type { CoverageMatrix } from './report-types.js';
import { table } from './table.js';

/** Rules against outcomes, each cell tinted by its share of the rule's evaluations; outcomes never seen are counted. */
export function matrixHtml({ rows }: CoverageMatrix, caption: string): Html {
  const unseen = rows.flatMap(({ outcomes }) => OUTCOMES.filter((outcome) => outcomes[outcome] === 0));
  const whole = rows.length * OUTCOMES.length;
  return markup`<p>${whole - unseen.length} of ${whole} pairs of rule and outcome were met.</p>
${table({
  caption,
  columns: ['Rule', 'Indicator', ...OUTCOMES.map((outcome) => OUTCOME_TITLES[outcome]), 'Outcomes never met'],
  rows: rows.map(({ rule, title, indicator, outcomes, examples }) => {
    const all = OUTCOMES.reduce((sum, outcome) => sum + outcomes[outcome], 0);
    const never = OUTCOMES.filter((outcome) => outcomes[outcome] === 0);
    const shown = OUTCOMES.flatMap((outcome) => examples?.[outcome] ?? []);
    return [
      markup`${title}<br><code>${rule}</code>${shown.length === 0 ? undefined : markup`<br><span class="quiet">met by ${[...new Set(shown)].join(', ')}</span>`}`,
      indicator,
      ...OUTCOMES.map((outcome) => ({
        number: outcomes[outcome],
        shade: all === 0 ? 0 : outcomes[outcome] / all,
      })),
      never.map((outcome) => OUTCOME_TITLES[outcome]).join(', '),
    ];
  }),
})}`;
}

import { OUTCOMES, OUTCOME_TITLES } from '../../render/words.js';
import type { CoverageMatrix } from './report-types.js';

/** How often each rule had each outcome, as a table of text. */
export function outcomeLines({ rows }: Pick<CoverageMatrix, 'rows'>): readonly string[] {
  return [
    'Outcomes, once for each hip, construct and hook:',
    `  ${OUTCOMES.map((outcome) => OUTCOME_TITLES[outcome].padStart(16)).join('')}  rule`,
    ...rows.map(
      ({ rule, outcomes }) =>
        `  ${OUTCOMES.map((outcome) => String(outcomes[outcome]).padStart(16)).join('')}  ${rule}`,
    ),
  ];
}

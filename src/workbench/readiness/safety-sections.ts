import { markup } from '../../render/html.js';
import type { Section } from '../report/page.js';
import { table } from '../report/table.js';
import type { LatencyFigures, Readiness } from './readiness-types.js';

/** What the rulebook says it cannot do, and hazards with something left to do. */
export function limitsSection({ limits, hazards }: Readiness): Section {
  return {
    id: 'limits',
    title: 'Known limits and open hazards',
    body: markup`<ul>${limits.map((limit) => markup`<li>${limit}</li>\n`)}</ul>
${
  hazards.length === 0
    ? markup`<p>The hazard log has nothing open, or none was found beside the rules.</p>`
    : table({
        caption: 'Hazards with something left to do; ratings are proposals',
        columns: ['Hazard', 'Status', 'Risk after controls', 'Left to do'],
        rows: hazards.map(({ id, hazard, status, after, remains }) => [
          `${id} ${hazard}`,
          status,
          { number: after.risk },
          remains ?? '–',
        ]),
      })
}`,
  };
}

/** The only figures here that another run of the same sample tells differently. */
export function latencySection({ calls, p50, p95, p99, longest, machine }: LatencyFigures): Section {
  const ms = (value: number): string => `${value.toFixed(value < 10 ? 2 : 0)} ms`;
  return {
    id: 'latency',
    title: 'Time to advise',
    body: markup`<p>Measured here, over ${calls} calls, one after another, on ${machine}: from the parsed call to its cards. Network, reading from the record system and keeping the record come on top.</p>
${table({
  caption: 'Time for one call',
  columns: ['Half within', '95 % within', '99 % within', 'Longest'],
  rows: [[ms(p50), ms(p95), ms(p99), ms(longest)]],
})}`,
  };
}

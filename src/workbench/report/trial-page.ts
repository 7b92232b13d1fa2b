import { quantityText } from '../../render/words.js';
import { bars } from './bars.js';
import { markup } from '../../render/html.js';
import type { Html } from '../../render/html.js';
import { matrixHtml } from './matrix-html.js';
import { page } from './page.js';
import { aboutLines, figuresHtml, footerLines } from './report-head.js';
import type {
  CoverageRow,
  EdgeKind,
  NamedCard,
  ThresholdCoverage,
  ThresholdEdge,
  TreeDifference,
  TrialFailure,
  TrialResult,
} from './report-types.js';
import { table } from './table.js';

/** A trial of test patients as one HTML file. */
export function trialPage(result: TrialResult, deferral: string): string {
  const { about, patients, passed, failures, coverage, thresholds } = result;
  const edges = thresholds.flatMap((threshold) => threshold.edges);
  return page({
    kind: 'Kotyle trial report',
    title: `${passed} of ${patients} test patients and cases pass`,
    about: aboutLines(about),
    deferral,
    sections: [
      {
        id: 'overview',
        title: 'Overview',
        body: markup`${figuresHtml([
          ['test patients and cases', patients],
          ['pass', passed],
          ['failures', failures.length],
          ['edges of limits covered', `${edges.filter(({ covered }) => covered).length} of ${edges.length}`],
        ])}
${outcomeBars(coverage.rows)}`,
      },
      {
        id: 'failures',
        title: `Failures: ${failures.length}`,
        body: failures.length === 0 ? markup`<p>None.</p>` : markup`${failures.map(failureHtml)}`,
      },
      {
        id: 'outcomes',
        title: 'Outcomes of every rule',
        body: matrixHtml(coverage, 'Outcomes by rule, with the test patient that met each first'),
      },
      { id: 'limits', title: 'Edges of every limit', body: thresholdsHtml(thresholds) },
    ],
    footer: footerLines(about),
  });
}

function outcomeBars(rows: readonly CoverageRow[]): Html {
  const met = ({ outcomes }: CoverageRow): number =>
    Object.values(outcomes).filter((count) => count > 0).length;
  const parts = [4, 3, 2, 1, 0].map((count) => ({
    count,
    rules: rows.filter((row) => met(row) === count).length,
  }));
  return bars({
    id: 'rules-met',
    title: 'Rules by how many of their four outcomes were met',
    description: parts.map(({ count, rules }) => `${count} of 4: ${rules} rules`).join('; '),
    bars: parts.map(({ count, rules }) => ({
      label: `${count} of 4 outcomes met`,
      parts: [{ value: rules, look: `share-${Math.max(1, count)}`, name: `${count} of 4` }],
      said: `${rules} ${rules === 1 ? 'rule' : 'rules'}`,
    })),
  });
}

function failureHtml({ patient, hook, teaches, missing, unexpected, differences, why }: TrialFailure): Html {
  return markup`<article class="card warning"><h3><span class="label failed">fails</span>${patient} at ${hook}</h3>
<p>${teaches}</p>
${why === undefined ? undefined : markup`<p><strong>${why}</strong></p>`}${cardsHtml('Missing', missing)}${cardsHtml('Not expected', unexpected)}${differencesHtml(patient, hook, differences)}</article>
`;
}

function cardsHtml(title: string, cards: readonly NamedCard[]): Html | undefined {
  if (cards.length === 0) return undefined;
  return markup`<p>${title}: ${cards.map(({ rule, hip, indicator }) => `${rule} (${hip}, ${indicator})`).join('; ')}</p>`;
}

function differencesHtml(
  patient: string,
  hook: string,
  differences: readonly TreeDifference[],
): Html | undefined {
  if (differences.length === 0) return undefined;
  return table({
    caption: `${patient} at ${hook}: where the trees differ`,
    columns: ['Rule', 'Hip', 'Where', 'Expected', 'Found'],
    rows: differences.map(({ rule, hip, construct, path, expected, found }) => [
      rule,
      `${hip}, ${construct}`,
      path === '' ? 'outcome' : path,
      expected,
      found,
    ]),
  });
}

const EDGES: readonly (readonly [edge: EdgeKind, title: string])[] = [
  ['clearly-below', 'clearly below'],
  ['just-below', 'just below'],
  ['at', 'at'],
  ['just-above', 'just above'],
  ['clearly-above', 'clearly above'],
];

function thresholdsHtml(thresholds: readonly ThresholdCoverage[]): Html {
  return markup`<p>A limit is covered where cases stand on each side of it and on it, so that moving it a little changes an outcome.</p>
${table({
  caption: 'Limits by rule, with the edges that cases cover',
  columns: ['Rule and comparison', 'Open', ...EDGES.map(([, title]) => title)],
  rows: thresholds.map((threshold) => [
    comparisonHtml(threshold),
    { number: threshold.edges.filter(({ covered }) => !covered).length },
    ...EDGES.map(([edge]) => edgeHtml(threshold.edges.find((one) => one.edge === edge))),
  ]),
})}`;
}

function comparisonHtml({ rule, path, fact, operator, limit, unit, parameter }: ThresholdCoverage): Html {
  const asked = `${fact} ${operator} ${quantityText(limit, unit)}`;
  return markup`${rule}<br><span class="quiet">${asked}<br><code>${path}</code>${parameter === undefined ? undefined : markup`<br>${parameter}`}</span>`;
}

/** Whether an edge is covered, and by whom first. */
function edgeHtml(edge: ThresholdEdge | undefined): Html {
  if (!edge) return markup`<span class="quiet">not asked</span>`;
  if (!edge.covered) return markup`<span class="open">open</span>`;
  return markup`<span class="covered">covered</span><br><span class="quiet">${edge.patients[0]}</span>`;
}

import { outcomeLines } from '../report/outcome-lines.js';
import type { Explanation } from '../../engine/explanation.js';
import { OUTCOMES, OUTCOME_TITLES } from '../../render/words.js';
import type { CoverageRow } from '../report/report-types.js';
import type { CaseFailure, RuleTree } from './failure.js';
import { askedText, foundText } from './standing-leaves.js';
import type { EdgeCoverage } from './threshold-coverage.js';
import type { Trial } from './trial.js';

/** A trial for a terminal: what failed and why, which outcomes were met, and what no test patient covers. */
export function trialText(trial: Trial): string {
  const { about, patients, calls, passed, failures, coverage } = trial;
  const gaps = uncovered(trial);
  const lines = [
    `Trial: ${about.over}`,
    `Kotyle rulebook ${about.rulebook.version} (${about.rulebook.status}), engine ${about.engine}`,
    `${patients} test patients and edge cases, ${calls} calls: ${passed} kept, ${patients - passed} not`,
    '',
    ...failures.flatMap(failureLines),
    ...outcomeLines(coverage),
    '',
    gaps.length === 0 ? 'Everything is covered.' : `Not covered (${gaps.length}):`,
    ...gaps.map((gap) => `  ${gap}`),
  ];
  return `${lines.join('\n')}\n`;
}

/** What no test patient shows, by name. */
export function uncovered({ coverage, findings, thresholds }: Trial): readonly string[] {
  return [
    ...coverage.rows.flatMap(outcomeGaps),
    ...findings
      .filter(({ seen }) => seen === 0)
      .map(({ rule, index, summary }) => `finding ${index} of ${rule} never speaks: "${summary}"`),
    ...thresholds.flatMap(edgeGaps),
  ];
}

function outcomeGaps({ rule, outcomes }: CoverageRow): readonly string[] {
  return OUTCOMES.filter((outcome) => outcomes[outcome] === 0).map(
    (outcome) => `${rule} never has the outcome "${OUTCOME_TITLES[outcome]}"`,
  );
}

function edgeGaps({
  file,
  path,
  fact,
  operator,
  limit,
  unit,
  banded,
  edges,
  unknown,
}: EdgeCoverage): readonly string[] {
  const open = edges.filter(({ covered }) => !covered).map(({ edge }) => edge);
  // A comparison that can't be made has no band to tell.
  const sides = [...open, ...(unknown.length === 0 && !banded ? ['unknown'] : [])];
  if (sides.length === 0) return [];
  return [`${file} ${path}: ${fact} ${operator} ${limit} ${unit}: no value ${sides.join(', ')}`];
}

function failureLines({
  patient,
  hook,
  teaches,
  why,
  missing,
  unexpected,
  differences,
  trees,
}: CaseFailure): readonly string[] {
  return [
    `NOT KEPT ${patient} at ${hook}: ${teaches}`,
    ...(why === undefined ? [] : [`  ${why}`]),
    ...missing.map(({ rule, hip, indicator }) => `  missing: ${indicator} ${rule}, ${hip}`),
    ...unexpected.map(({ rule, hip, indicator }) => `  unexpected: ${indicator} ${rule}, ${hip}`),
    ...differences.map(({ rule, hip, construct, path, expected, found }) =>
      path === ''
        ? `  ${rule}, ${hip} ${construct}: expected ${expected}, found ${firstLine(found)}`
        : `    at ${path}: expected ${expected}, found ${found}`,
    ),
    ...trees.flatMap(ruleTreeLines),
    '',
  ];
}

/** A card is told by its first line; the whole stands in the JSON. */
function firstLine(text: string): string {
  const [first = '', ...more] = text.split('\n');
  return more.length === 0 ? first : `${first} …`;
}

function ruleTreeLines({ rule, hip, construct, outcome, appliesWhen, when }: RuleTree): readonly string[] {
  return [
    `  tree of ${rule}, ${hip} ${construct}: ${outcome}`,
    ...(appliesWhen ? treeLines(appliesWhen, '    applies when ') : []),
    ...(when ? treeLines(when, '    fires when ') : []),
  ];
}

/** A tree, one line for each node: its truth first, then what it asks and what it found. */
function treeLines(tree: Explanation, prefix: string): readonly string[] {
  const indent = ' '.repeat(prefix.length - prefix.trimStart().length + 2);
  const name = tree.name === undefined ? '' : ` (${tree.name})`;
  switch (tree.kind) {
    case 'compare':
      return [`${prefix}${tree.truth}: ${askedText(tree)}${name}; found ${foundText(tree)}`];
    case 'not':
      return [`${prefix}${tree.truth}: not${name}`, ...treeLines(tree.child, indent)];
    default:
      return [
        `${prefix}${tree.truth}: ${tree.kind} of${name}`,
        ...tree.children.flatMap((child) => treeLines(child, indent)),
      ];
  }
}

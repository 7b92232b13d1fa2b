import { HOOKS_BY_NAME } from '../../../src/advice/hook-inputs.js';
import { cohortReport } from '../../../src/workbench/report/cohort.js';
import type { CohortMember } from '../../../src/workbench/report/cohort.js';
import type { CohortResult, TrialResult } from '../../../src/workbench/report/report-types.js';
import { advisor, rulebook, testPatient } from '../../advice/patients.js';
import { setting } from '../evaluate/evaluations.js';

export const NAMES = ['demo-parkinson-steep-cup', 'nothing-known', 'knee-replacement', 'staged-bilateral'];

export const members: readonly CohortMember[] = [
  ...NAMES.map((name) => ({ where: `${name}.json`, bundle: testPatient(name).bundle })),
  { where: 'broken.json', why: 'broken JSON at line 1, column 2: expected a value, found <' },
];

export async function smallCohort(given: readonly CohortMember[] = members): Promise<CohortResult> {
  return await cohortReport(given, {
    setting,
    advisor,
    hooks: HOOKS_BY_NAME.all,
    over: 'four Bundles and a broken file',
  });
}

/** A trial result with one failure, hand-made. */
export const trial: TrialResult = {
  kind: 'trial',
  about: {
    rulebook: { version: '2026.11.0', status: 'draft', hash: rulebook.hash },
    engine: '0.1.0',
    at: '2026-11-24T10:00:00Z',
    over: 'three test patients <in> "quotes" & more',
  },
  patients: 3,
  passed: 2,
  failures: [
    {
      patient: 'steep-cup',
      hook: 'order-sign',
      teaches: 'A steep cup is told.',
      missing: [{ rule: 'cup-inclination-outside-published', hip: 'left', indicator: 'warning' }],
      unexpected: [],
      differences: [
        {
          rule: 'cup-inclination-outside-published',
          hip: 'left',
          construct: 'planned',
          path: 'when.any[0]',
          expected: 'cup-inclination above 58: true',
          found: 'cup-inclination above 58: false, found 58',
        },
      ],
    },
  ],
  coverage: {
    rows: rulebook.rules.map(({ id, title, indicator }, index) => ({
      rule: id,
      title,
      indicator,
      outcomes: { fires: index, 'cannot-tell': 20 - index, 'does-not-fire': 3, 'not-applicable': 0 },
      examples: { fires: 'steep-cup' },
    })),
  },
  thresholds: [
    {
      rule: 'cup-inclination-outside-published',
      path: 'when.any[0]',
      fact: 'cup-inclination',
      operator: 'clearly-above',
      limit: 58,
      unit: 'deg',
      parameter: 'cup-inclination-published-high',
      edges: [
        { edge: 'at', covered: true, patients: ['edge-of-steep'] },
        { edge: 'just-above', covered: false, patients: [] },
      ],
    },
  ],
};

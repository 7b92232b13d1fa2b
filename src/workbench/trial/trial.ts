import type { ReportAbout, TrialResult } from '../report/report-types.js';
import type { RuleSources } from '../rule-sources.js';
import { CoverageRecorder } from './coverage.js';
import type { FindingCoverage } from './coverage.js';
import { failureOf } from './failure.js';
import type { CaseFailure } from './failure.js';
import { runCase } from './run-case.js';
import type { TrialSetting } from './run-case.js';
import type { EdgeCoverage } from './threshold-coverage.js';
import type { TrialCase } from './trial-case.js';
import { isKept, judge } from './verdict.js';

/** What a trial found: the report's part, and what is only told in full. */
export interface Trial extends TrialResult {
  readonly failures: readonly CaseFailure[];
  readonly findings: readonly FindingCoverage[];
  readonly thresholds: readonly EdgeCoverage[];
  /** Calls made: one for each patient or edge case and hook. */
  readonly calls: number;
}

export interface TrialInput {
  readonly cases: readonly TrialCase[];
  readonly sources: RuleSources;
  readonly setting: TrialSetting;
  readonly over: string;
  readonly progress?: (done: number, all: number) => void;
}

/** Runs every case, judges it and counts what it covers. Same cases and rulebook, same result. */
export async function runTrial({ cases, sources, setting, over, progress }: TrialInput): Promise<Trial> {
  const coverage = new CoverageRecorder(setting.advisor.rulebook, sources);
  const failures: CaseFailure[] = [];
  let done = 0;
  for (const trial of cases) {
    const run = await runCase(trial, setting);
    coverage.add(run);
    const verdict = judge(run);
    if (!isKept(verdict)) failures.push(failureOf(run, verdict));
    done += 1;
    progress?.(done, cases.length);
  }
  const names = new Set(cases.map(({ name }) => name));
  const failing = new Set(failures.map(({ patient }) => patient));
  const { matrix, findings, thresholds } = coverage.finish();
  return {
    kind: 'trial',
    about: aboutOf(setting, newest(cases), over),
    patients: names.size,
    passed: names.size - failing.size,
    calls: cases.length,
    failures,
    coverage: matrix,
    findings,
    thresholds,
  };
}

function newest(cases: readonly TrialCase[]): string {
  return cases
    .map(({ now }) => now)
    .reduce((a, b) => (Date.parse(a) >= Date.parse(b) ? a : b), '1970-01-01T00:00:00Z');
}

function aboutOf({ advisor, engine, site }: TrialSetting, at: string, over: string): ReportAbout {
  const { about, hash } = advisor.rulebook;
  return {
    rulebook: { version: about.version, status: about.status, hash },
    engine,
    ...(site && { site: { id: site.id, version: site.version, hash: site.hash } }),
    at,
    over,
  };
}

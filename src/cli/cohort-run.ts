import { newAdvisor } from '../advice/index.js';
import type { Hook } from '../advice/index.js';
import { asDecide, compileDecide } from '../engine/compiled-decide.js';
import type { EvaluationSetting } from '../advice/hook-inputs.js';
import { cohortPage } from '../workbench/report/cohort-page.js';
import { cohortText } from '../workbench/report/cohort-text.js';
import { cohortReport } from '../workbench/report/cohort.js';
import type { CohortResult } from '../workbench/report/report-types.js';
import { cohortSource } from './cohort-members.js';
import type { CohortSource } from './cohort-members.js';
import { CallError } from './io.js';
import type { Io } from './io.js';
import { writeWhole } from './output.js';
import { progressOf } from './progress.js';

export interface CohortCall {
  readonly format: 'text' | 'json' | 'html';
  readonly hooks: readonly Hook[];
  readonly setting: EvaluationSetting;
  readonly out?: string;
}

/** Evaluates every member of a cohort and writes one report. Exit code 1 when some could not be evaluated. */
export async function runCohort(source: string, call: CohortCall, io: Io): Promise<void> {
  const result = await evaluateCohort(cohortSource(source), call, io);
  const first = result.unreadable[0];
  if (result.patients === 0)
    throw new CallError(`--cohort: expected one Bundle a line in ${source}, found none`);
  if (first && result.burden.every(({ calls }) => calls === 0))
    throw new CallError(
      `--cohort: none of ${result.patients} could be evaluated; the first, ${first.where}: ${first.why}`,
      'each member is one FHIR R4 Bundle with one patient',
    );
  const text = written(result, call);
  if (call.out === undefined) io.out(text);
  else {
    writeWhole(call.out, text);
    io.err(`wrote ${call.out}\n`);
  }
  if (result.unreadable.length > 0)
    io.err(
      `kotyle: ${result.unreadable.length} could not be evaluated, or not wholly; the report names them\n`,
    );
  io.setExitCode(result.unreadable.length > 0 ? 1 : 0);
}

async function evaluateCohort(source: CohortSource, call: CohortCall, io: Io): Promise<CohortResult> {
  const progress = progressOf('patients', source.total, io);
  const { setting, hooks } = call;
  // The evaluator compiled for many patients, proven to give the same trees as the other.
  const decide = asDecide(compileDecide(setting.rulebook.rules));
  const advisor = { ...newAdvisor(setting.rulebook), decide };
  const parts = { setting, hooks, advisor, over: source.over };
  try {
    return await cohortReport(source.members(), parts, progress.tell);
  } finally {
    progress.end();
  }
}

function written(result: CohortResult, { format, setting }: CohortCall): string {
  const { deferral } = setting.rulebook.about;
  switch (format) {
    case 'text':
      return cohortText(result, deferral);
    case 'html':
      return cohortPage(result, deferral);
    case 'json':
      return `${JSON.stringify(result, undefined, 2)}\n`;
  }
}

import type { Hook } from '../../../src/advice/index.js';
import type { JsonObject } from '../../../src/fhir/json.js';
import { evaluatePatient } from '../../../src/advice/evaluate-patient.js';
import type { PatientEvaluation } from '../../../src/advice/evaluate-patient.js';
import { HOOKS_BY_NAME, inputsFromBundle } from '../../../src/advice/hook-inputs.js';
import type { EvaluationSetting } from '../../../src/advice/hook-inputs.js';
import { advisor, NOW, rulebook, testPatient } from '../../advice/patients.js';

export const setting: EvaluationSetting = { rulebook, now: NOW, engine: '0.1.0' };

/** The evaluation of a Bundle at some hooks, as the command makes it. */
export async function evaluationOf(
  bundle: JsonObject,
  hooks: readonly Hook[] = HOOKS_BY_NAME.all,
  using: EvaluationSetting = setting,
): Promise<PatientEvaluation> {
  return await evaluatePatient(inputsFromBundle(bundle, hooks, using), advisor);
}

export async function evaluationNamed(name: string): Promise<PatientEvaluation> {
  return await evaluationOf(testPatient(name).bundle);
}

import type { Bundle } from 'fhir/r4.js';
import type { HookAnswer } from '../../advice/evaluate-patient.js';
import type { Rulebook } from '../../rulebook/types.js';
import { cardProposals } from './card-proposals.js';
import { dataNotes } from './data-notes.js';
import { detectedIssues } from './detected-issues.js';
import { entryOf, evaluationScope } from './evaluation-scope.js';
import type { EvaluationScope, Named, Tells } from './evaluation-scope.js';
import { guidanceResponse } from './guidance-response.js';
import { riskAssessment } from './risk-assessment.js';

export interface EvaluationBundleParts {
  readonly rulebook: Rulebook;
  /** ISO 8601 instant; none where nothing was evaluated. */
  readonly now?: string;
  /** What is told; everything when left out. */
  readonly tells?: (answer: HookAnswer) => Tells;
  /** What whoever asks must know besides. */
  readonly remarks?: readonly string[];
}

/** Evaluations of one patient as FHIR R4: a collection that refers to nothing outside it but the record it was made from. */
export function evaluationBundle(
  answers: readonly HookAnswer[],
  { rulebook, now, tells = () => () => true, remarks = [] }: EvaluationBundleParts,
): Bundle {
  const scopes = answers.map((one) => evaluationScope(one, rulebook, tells(one)));
  const resources = [...scopes.flatMap(resourcesOf), ...detectedIssues(scopes), dataNotes(scopes, remarks)];
  return {
    resourceType: 'Bundle',
    type: 'collection',
    ...(now !== undefined && { timestamp: now }),
    entry: resources.map(entryOf),
  };
}

function resourcesOf(scope: EvaluationScope): readonly Named[] {
  const proposals = cardProposals(scope);
  return [
    ...scope.hips.flatMap((hip) => [guidanceResponse(hip, scope, proposals?.id), riskAssessment(hip, scope)]),
    proposals,
  ].filter((one) => one !== undefined);
}

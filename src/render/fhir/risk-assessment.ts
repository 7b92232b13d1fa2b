import type { RiskAssessment } from 'fhir/r4.js';
import type { HipEvaluation } from '../../engine/evaluate.js';
import { ENGINE, engineDevice, hipId, referencesIn, subjectOf } from './evaluation-scope.js';
import type { EvaluationScope, Named } from './evaluation-scope.js';

/**
 * What was found that bears on the stability of one hip. It states no probability and no grade of risk, for the patient
 * or in comparison: nothing here is fitted to tell one. Undefined where no clinical rule fires.
 */
export function riskAssessment(
  hip: HipEvaluation,
  scope: EvaluationScope,
): (RiskAssessment & Named) | undefined {
  const { rulebook, one } = scope;
  const clinical = new Map(
    rulebook.rules.filter(({ type }) => type === 'clinical').map((rule) => [rule.id, rule]),
  );
  const fired = hip.advisories.filter(({ rule, outcome }) => outcome === 'fires' && clinical.has(rule));
  if (fired.length === 0) return undefined;
  const basis = referencesIn(
    fired.flatMap((advisory) => (advisory.fired?.facts ?? []).flatMap(({ provenance }) => provenance.from)),
  );
  return {
    resourceType: 'RiskAssessment',
    id: hipId(hip, scope, 'risk'),
    contained: [engineDevice(scope)],
    status: 'preliminary',
    method: { text: `${rulebook.about.label}, ${rulebook.hash}` },
    subject: subjectOf(scope),
    occurrenceDateTime: one.input.now,
    performer: ENGINE,
    ...(basis.length > 0 && { basis: [...basis] }),
    prediction: fired.map(({ rule }) => ({
      outcome: { text: clinical.get(rule)?.title ?? rule },
      rationale: clinical.get(rule)?.messages.fires ?? rule,
    })),
    note: [
      { text: 'No probability and no grade of risk is stated; findings are listed and never combined.' },
      { text: rulebook.about.deferral },
    ],
  };
}

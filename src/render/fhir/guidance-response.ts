import type { GuidanceResponse, OperationOutcome } from 'fhir/r4.js';
import { sortedUnique } from '../../base/order.js';
import type { HipEvaluation } from '../../engine/evaluate.js';
import { HOOK_TITLES, hipTitle } from '../words.js';
import { dataRequirement } from './data-requirement.js';
import { evaluationParameters } from './evaluation-parameters.js';
import { ENGINE, engineDevice, hipId, identifierOf, subjectOf, urnOf } from './evaluation-scope.js';
import type { EvaluationScope, Named } from './evaluation-scope.js';
import { rulebookCanonical } from './libraries.js';

/**
 * What came of one hip at one occasion: whether everything could be told, which data would settle the rest, and the
 * evaluation itself. The cards, where there are any, stand beside it as proposals.
 */
export function guidanceResponse(
  hip: HipEvaluation,
  scope: EvaluationScope,
  proposals: string | undefined,
): GuidanceResponse & Named {
  const { one, evaluation, rulebook } = scope;
  const broken = hip.advisories.some((advisory) => advisory.broken);
  const needs = sortedUnique(hip.advisories.flatMap((advisory) => advisory.needs));
  return {
    resourceType: 'GuidanceResponse',
    id: hipId(hip, scope, 'guidance'),
    contained: [engineDevice(scope), evaluationParameters(hip, scope), ...(broken ? [BROKEN] : [])],
    requestIdentifier: identifierOf(one.input.hookInstance),
    identifier: [identifierOf(evaluation)],
    moduleCanonical: rulebookCanonical(rulebook),
    status: broken ? 'failure' : needs.length > 0 ? 'data-requested' : 'success',
    subject: subjectOf(scope),
    occurrenceDateTime: one.input.now,
    performer: ENGINE,
    note: [
      {
        text: `${hipTitle(hip.hip, hip.construct)}. ${HOOK_TITLES[one.hook]} (${one.hook}). ${rulebook.about.label}, ${rulebook.hash}`,
      },
      { text: rulebook.about.deferral },
    ],
    ...(broken && { evaluationMessage: [{ reference: '#message' }] }),
    outputParameters: { reference: '#evaluation' },
    ...(proposals !== undefined && { result: { reference: urnOf(proposals) } }),
    ...(needs.length > 0 && {
      // The id of the element is that of the fact, so that two facts in one kind of resource stay two.
      dataRequirement: needs.map((need) => ({ id: need, ...dataRequirement(need, rulebook) })),
    }),
  };
}

const BROKEN: OperationOutcome & Named = {
  resourceType: 'OperationOutcome',
  id: 'message',
  issue: [
    {
      severity: 'error',
      code: 'exception',
      details: {
        text: 'A rule or a computation could not be evaluated; which one stands in the evaluation.',
      },
    },
  ],
};

import type { RequestGroup, RequestGroupAction } from 'fhir/r4.js';
import { listUuid } from '../../base/hash.js';
import type { Card } from '../card-types.js';
import { hipId, identifierOf, subjectOf, urnOf } from './evaluation-scope.js';
import type { EvaluationScope, Named } from './evaluation-scope.js';

/** The cards of one evaluation as proposals; undefined where no card is told. */
export function cardProposals(scope: EvaluationScope): (RequestGroup & Named) | undefined {
  const { one, evaluation, rulebook } = scope;
  const action = one.answer.cards.flatMap((card) => cardAction(card, scope));
  if (action.length === 0) return undefined;
  return {
    resourceType: 'RequestGroup',
    id: listUuid([evaluation, 'cards']),
    identifier: [identifierOf(one.input.hookInstance)],
    status: 'draft',
    intent: 'proposal',
    subject: subjectOf(scope),
    authoredOn: one.input.now,
    note: [{ text: rulebook.about.deferral }],
    action,
  };
}

/** Advice on a plan is never as urgent as `stat`, whatever it is about. */
const PRIORITIES = { info: 'routine', warning: 'urgent', critical: 'urgent' } as const;

/** A card points at the response of the hip it speaks of; of a hip that is not told, neither is its card. */
function cardAction(card: Card, scope: EvaluationScope): readonly RequestGroupAction[] {
  const told = card.extension['example.kotyle.advisory'];
  const { code, system, display } = card.source.topic;
  const isOfHip = typeof told['hip'] === 'string';
  const about = isOfHip
    ? scope.hips.find(
        ({ hip, construct, advisories }) =>
          (told['hip'] === hip || told['hip'] === 'both') &&
          told['construct'] === construct &&
          advisories.some(({ rule }) => rule === code),
      )
    : scope.hips[0];
  if (!about) return [];
  return [
    {
      id: card.uuid,
      title: card.summary,
      description: card.detail,
      priority: PRIORITIES[card.indicator],
      code: [{ coding: [{ system, code, display }] }],
      documentation: [
        { type: 'documentation', label: card.source.label },
        ...(card.links ?? []).map(({ label, url }) => ({
          type: 'documentation' as const,
          label,
          url,
        })),
      ],
      resource: { reference: urnOf(hipId(about, scope, 'guidance')) },
    },
  ];
}

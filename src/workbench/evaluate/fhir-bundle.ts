import type {
  Bundle,
  BundleEntry,
  Device,
  FhirResource,
  GuidanceResponse,
  OperationOutcome,
  Parameters,
  ParametersParameter,
  RequestGroup,
  RequestGroupAction,
} from 'fhir/r4.js';
import { listUuid } from '../../base/hash.js';
import { sortedUnique } from '../../base/order.js';
import type { Advisory, HipEvaluation } from '../../engine/evaluate.js';
import type { Card } from '../../render/card-types.js';
import type { Rulebook } from '../../rulebook/types.js';
import { dataRequirement } from './data-requirement.js';
import type { HookAnswer } from './evaluate-patient.js';
import { readableTree } from './readable-tree.js';
import type { ReadableNode } from './readable-tree.js';
import { HOOK_TITLES, TRUTH_TITLES, hipTitle } from './words.js';

const CANONICAL = 'https://kotyle.example/fhir';

/**
 * Evaluations as FHIR R4: for each hook one GuidanceResponse for the whole, with its cards as a RequestGroup of
 * proposals, and one GuidanceResponse for each advisory with its outcome, sentence, tree and what it lacks.
 */
export function fhirBundle(answers: readonly HookAnswer[], rulebook: Rulebook): Bundle {
  const [first] = answers;
  if (!first) throw new RangeError('expected at least one answer');
  const { now, engine } = first.input;
  const device = entryOf(engineDevice(engine));
  return {
    resourceType: 'Bundle',
    type: 'collection',
    timestamp: now,
    entry: [device, ...answers.flatMap((one) => answerEntries(one, device.fullUrl ?? '', rulebook))],
  };
}

type Named = FhirResource & { readonly id: string };

function entryOf(resource: Named): BundleEntry {
  return { fullUrl: urnOf(resource.id), resource };
}

function urnOf(id: string): string {
  return `urn:uuid:${id}`;
}

function engineDevice(engine: string): Device & Named {
  return {
    resourceType: 'Device',
    id: listUuid(['engine', engine]),
    deviceName: [{ name: 'Kotyle', type: 'model-name' }],
    version: [{ value: engine }],
  };
}

interface Scope {
  readonly one: HookAnswer;
  readonly evaluation: string;
  readonly rulebook: Rulebook;
  /** What every response of one evaluation has. */
  readonly shared: Pick<GuidanceResponse, 'subject' | 'occurrenceDateTime' | 'performer'>;
}

function answerEntries(one: HookAnswer, device: string, rulebook: Rulebook): readonly BundleEntry[] {
  const { input, answer } = one;
  const scope: Scope = {
    one,
    evaluation: answer.evaluationId(),
    rulebook,
    shared: {
      subject: { reference: `Patient/${input.patientId}` },
      occurrenceDateTime: input.now,
      performer: { reference: device },
    },
  };
  const advisories = answer.hips.flatMap((hip) =>
    hip.advisories.map((advisory) => advisoryResponse(advisory, hip, scope)),
  );
  const cards = answer.cards.length === 0 ? [] : [cardGroup(answer.cards, scope)];
  const whole = wholeResponse(cards[0], scope);
  return [whole, ...cards, ...advisories].map(entryOf);
}

/** The evaluation as a whole: who asked, what came of it, which data would help. */
function wholeResponse(
  group: Named | undefined,
  { one, evaluation, rulebook, shared }: Scope,
): GuidanceResponse & Named {
  const advisories = one.answer.hips.flatMap((hip) => hip.advisories);
  const needs = sortedUnique(advisories.flatMap((advisory) => advisory.needs));
  const broken = advisories.some((advisory) => advisory.broken);
  return {
    resourceType: 'GuidanceResponse',
    id: evaluation,
    requestIdentifier: { system: 'urn:ietf:rfc:3986', value: urnOf(one.input.hookInstance) },
    identifier: [{ system: 'urn:ietf:rfc:3986', value: urnOf(evaluation) }],
    moduleCanonical: `${CANONICAL}/Library/${rulebook.about.id}|${rulebook.about.version}`,
    status: broken ? 'failure' : needs.length > 0 ? 'data-requested' : 'success',
    ...shared,
    ...(broken && {
      contained: [
        outcomeResource('message', 'error', 'exception', 'A rule or a computation could not be evaluated.'),
      ],
      evaluationMessage: [{ reference: '#message' }],
    }),
    note: [
      { text: `${HOOK_TITLES[one.hook]} (${one.hook}). ${rulebook.about.label}, ${rulebook.hash}` },
      { text: rulebook.about.deferral },
    ],
    ...(group && { result: { reference: urnOf(group.id) } }),
    ...(needs.length > 0 && { dataRequirement: needs.map((need) => dataRequirement(need, rulebook)) }),
  };
}

/** The cards as proposals: each points at the response of its advisory, where there is one. */
function cardGroup(cards: readonly Card[], scope: Scope): RequestGroup & Named {
  const { one, evaluation, shared, rulebook } = scope;
  return {
    resourceType: 'RequestGroup',
    id: listUuid([evaluation, 'cards']),
    identifier: [{ system: 'urn:ietf:rfc:3986', value: urnOf(one.input.hookInstance) }],
    status: 'draft',
    intent: 'proposal',
    ...(shared.subject && { subject: shared.subject }),
    authoredOn: one.input.now,
    note: [{ text: rulebook.about.deferral }],
    action: cards.map((card) => cardAction(card, scope)),
  };
}

/** Advice on a plan is never as urgent as `stat`, whatever it is about. */
const PRIORITIES = { info: 'routine', warning: 'urgent', critical: 'urgent' } as const;

function cardAction(card: Card, scope: Scope): RequestGroupAction {
  const told = card.extension['example.kotyle.advisory'];
  const about = scope.one.answer.hips.find(
    ({ hip, construct }) =>
      (told['hip'] === hip || told['hip'] === 'both') && told['construct'] === construct,
  );
  const { code, system, display } = card.source.topic;
  const response = about ? advisoryId(code, about, scope) : scope.evaluation;
  return {
    id: card.uuid,
    title: card.summary,
    description: card.detail,
    priority: PRIORITIES[card.indicator],
    code: [{ coding: [{ system, code, display }] }],
    documentation: [{ type: 'documentation', label: card.source.label }],
    resource: { reference: urnOf(response) },
  };
}

function advisoryId(rule: string, { hip, construct }: HipEvaluation, { evaluation }: Scope): string {
  return listUuid([evaluation, rule, hip, construct]);
}

/** One advisory: its outcome with the rule's own sentence, the tree, and what it lacks. */
function advisoryResponse(advisory: Advisory, hip: HipEvaluation, scope: Scope): GuidanceResponse & Named {
  const { rule: id, ruleVersion, outcome, needs, broken } = advisory;
  const { rulebook, shared } = scope;
  const says = sentenceOf(advisory, rulebook);
  return {
    resourceType: 'GuidanceResponse',
    id: advisoryId(id, hip, scope),
    contained: [
      broken
        ? outcomeResource('message', 'error', 'exception', 'The rule or a computation it needs is broken.')
        : outcomeResource(
            'message',
            'information',
            outcome === 'cannot-tell' ? 'incomplete' : 'informational',
            says,
          ),
      outputParameters(advisory, hip, rulebook),
    ],
    moduleCanonical: `${CANONICAL}/PlanDefinition/${id}|${ruleVersion}`,
    status: broken ? 'failure' : outcome === 'cannot-tell' ? 'data-required' : 'success',
    ...shared,
    note: [{ text: rulebook.about.deferral }],
    evaluationMessage: [{ reference: '#message' }],
    outputParameters: { reference: '#output' },
    ...(needs.length > 0 && { dataRequirement: needs.map((need) => dataRequirement(need, rulebook)) }),
  };
}

function sentenceOf({ rule: id, outcome }: Advisory, { rules }: Rulebook): string {
  const messages = rules.find((rule) => rule.id === id)?.messages;
  if (!messages) throw new RangeError(`no rule ${id}`);
  switch (outcome) {
    case 'fires':
      return messages.fires;
    case 'does-not-fire':
      return messages.doesNotFire;
    case 'cannot-tell':
      return messages.cannotTell;
    case 'not-applicable':
      return messages.notApplicable;
  }
}

function outcomeResource(
  id: string,
  severity: 'error' | 'information',
  code: 'exception' | 'incomplete' | 'informational',
  text: string,
): OperationOutcome & Named {
  return { resourceType: 'OperationOutcome', id, issue: [{ severity, code, details: { text } }] };
}

function outputParameters(advisory: Advisory, hip: HipEvaluation, rulebook: Rulebook): Parameters & Named {
  const { rule, outcome, appliesWhen, when, fired } = advisory;
  const scope = { rulebook, facts: hip.facts, inputsOf: (id: string) => hip.computed.get(id)?.inputs };
  const tree = (name: string, lines: readonly string[]): ParametersParameter => ({
    name,
    valueString: lines.join('\n'),
  });
  return {
    resourceType: 'Parameters',
    id: 'output',
    parameter: [
      { name: 'rule', valueCode: rule },
      { name: 'outcome', valueCode: outcome },
      { name: 'hip', valueCode: hip.hip },
      { name: 'construct', valueCode: hip.construct },
      { name: 'about', valueString: hipTitle(hip.hip, hip.construct) },
      ...(fired ? [{ name: 'data', valueCode: fired.data }] : []),
      ...(fired?.assumptions ?? []).map((text) => ({ name: 'assumption', valueString: text })),
      ...(appliesWhen ? [tree('appliesWhen', linesOf(readableTree(appliesWhen, scope)))] : []),
      ...(when ? [tree('when', linesOf(readableTree(when, scope)))] : []),
    ],
  };
}

/** A tree as lines: a hyphen for each level, the truth, what was asked, found, and noted. */
function linesOf(node: ReadableNode, level = 0): readonly string[] {
  const { truth, asked, found, notes, children } = node;
  const said = [asked, ...(found === undefined ? [] : [`found ${found}`]), ...notes].join('; ');
  return [
    `${'-'.repeat(level + 1)} ${TRUTH_TITLES[truth]}: ${said}`,
    ...children.flatMap((child) => linesOf(child, level + 1)),
  ];
}

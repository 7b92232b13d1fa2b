import { byText, sortedUnique } from '../base/order.js';
import { acknowledgementOf } from '../engine/acknowledgement.js';
import type { Advisory, FiredDetail, HipEvaluation } from '../engine/evaluate.js';
import type { ConstructKind, Hip } from '../facts/definitions.js';
import { conditionFacts } from '../rulebook/condition-facts.js';
import type { Rule } from '../rulebook/types.js';
import { citationKeys, effectLines } from './card-effects.js';
import { extensionOf } from './card-extension.js';
import { RULE_SYSTEM, answersFor, cardUuid, hipTitle, shorten } from './card-types.js';
import type { Card, CardContext, Indicator } from './card-types.js';
import { fillAll, fillFirst } from './message.js';
import type { MessageScope } from './message.js';

/** A card with what is needed to join it with that of the other hip, and to know it again. */
export interface AdvisoryCard {
  readonly card: Card;
  readonly rule: string;
  readonly hip: Hip;
  readonly construct: ConstructKind;
  /** The summary without the hip it speaks of. */
  readonly message: string;
  /** Whether the card speaks of a hip, or of the record as a whole. */
  readonly about: 'hip' | 'patient';
  readonly intent: 'planning' | 'check';
  readonly acknowledgement: string;
}

/** Renders one advisory that fires. Throws when its wording can't be filled, which makes the rule "could not be evaluated". */
export function advisoryCard(
  rule: Rule,
  advisory: Advisory,
  hip: HipEvaluation,
  context: CardContext,
): AdvisoryCard {
  const { fired, when } = advisory;
  if (!fired || !when) throw new Error(`${rule.id} does not fire`);
  const scope: MessageScope = {
    rulebook: context.rulebook,
    facts: hip.facts,
    numbers: fired.numbers,
    computed: hip.computed,
    when,
  };
  const about = rule.type === 'clinical' || isAboutHip(rule, hip) ? 'hip' : 'patient';
  const subject = about === 'hip' ? `${hipTitle(hip.hip)}, ${hip.construct}` : 'This patient';
  const intent = fired.finding.options ? 'planning' : 'check';
  const label = context.rulebook.about.label;
  const citations = citationKeys(rule, scope, context.telling);
  const message = fillFirst(fired.finding.summary, scope);
  const uuid = cardUuid(rule.id, hip.hip, hip.construct, context);
  const acknowledgement = acknowledgementOf(advisory);
  const told = { fired, citations, acknowledgement };
  const card: Card = {
    uuid,
    summary: shorten(`${subject}: ${message}`),
    detail: detailOf(rule, fired, scope, context),
    indicator: rule.indicator,
    source: { label, topic: { system: RULE_SYSTEM, code: rule.id, display: rule.title } },
    ...answersFor(uuid, intent, context),
    extension: { 'example.kotyle.advisory': extensionOf(rule, advisory, told, context) },
  };
  const { hip: side, construct } = hip;
  return { card, rule: rule.id, hip: side, construct, message, about, intent, acknowledgement };
}

/** A finding about the record as a whole is not pinned on whichever hip comes first. */
function isAboutHip(rule: Rule, hip: HipEvaluation): boolean {
  const kinds = new Set(conditionFacts(rule.when).flatMap((id) => hip.facts.get(id)?.provenance.from ?? []));
  const mine = hip.findings.filter(({ from }) => from.some((name) => kinds.has(name)));
  return mine.some((finding) => finding.hip !== 'any');
}

function detailOf(rule: Rule, fired: FiredDetail, scope: MessageScope, context: CardContext): string {
  const { finding } = fired;
  const lines = [
    `**Found** ${fillAll(finding.found, scope).join('; ')}.`,
    ...actionLines(rule, fired, scope),
    `**Sure?** ${fillFirst([finding.sure], scope)}.`,
    `**Not known** ${notKnown(fired, scope)}.`,
    `*${context.rulebook.about.deferral}*`,
  ];
  // A scheduler reads the booking card: what was found and what to prepare; numbers are for the surgeon's card.
  const effects = finding.before ? [] : effectLines(rule, scope, context.telling);
  const assumed = fired.assumptions.length === 0 ? [] : [`Assumed: ${fired.assumptions.join('; ')}`];
  return [...lines, ...assumed, ...effects, ...sourceLines(rule, scope, context)].join('\n\n');
}

function actionLines(rule: Rule, fired: FiredDetail, scope: MessageScope): readonly string[] {
  const { options, checks, before, ready } = fired.finding;
  if (options) return [`**Options** ${fillAll(options, scope).join(' · ')}.`];
  if (checks) return [`**To check** ${fillAll(checks, scope).join(' · ')}.`];
  if (!before) throw new Error(`${rule.id}: a finding needs options, checks or work-up`);
  const isOpen = (id: string | undefined): boolean =>
    id === undefined || scope.facts.get(id)?.state.status !== 'present';
  const open = before.filter(({ fact, unless }) => isOpen(fact) && isOpen(unless));
  const items = open.slice(0, 3).map(({ says }) => says);
  const readyText = ready === undefined ? '' : ` **Have ready** ${ready}.`;
  return [`**Before surgery** ${items.join(' · ')}.${readyText}`];
}

/** What this advisory would look at and could not, and doubts about what it did see. */
function notKnown(fired: FiredDetail, scope: MessageScope): string {
  const missing = fired.finding.notKnown
    .filter(({ fact }) => scope.facts.get(fact)?.state.status === 'unknown')
    .map(({ says }) => says);
  const parts = missing.slice(0, 3);
  const remarks = sortedUnique(fired.facts.flatMap((fact) => fact.remarks));
  const all = [parts.join(', '), ...remarks].filter((part) => part !== '');
  return all.length === 0 ? 'nothing this advisory uses' : all.join('; ');
}

function sourceLines(rule: Rule, scope: MessageScope, context: CardContext): readonly string[] {
  const shorts = citationKeys(rule, scope, context.telling).map(
    (key) => context.rulebook.citations.get(key)?.short ?? key,
  );
  const sources = shorts.length === 0 ? (rule.basis ?? '') : shorts.join('; ');
  const overdue = context.evaluatedAt.slice(0, 10) > rule.reviewBy ? ' · review overdue' : '';
  return [`Sources: ${sources}`, `${rule.id} ${rule.version} · ${context.rulebook.about.label}${overdue}`];
}

const INDICATOR_ORDER: readonly Indicator[] = ['critical', 'warning', 'info'];

/** Critical first, then warning, then info; inside each by rule and hip, so that order says nothing else. */
export function sortCards(cards: readonly Card[]): readonly Card[] {
  const byRule = byText((card: Card) => `${card.source.topic.code} ${card.summary}`);
  return [...cards].sort(
    (a, b) => INDICATOR_ORDER.indexOf(a.indicator) - INDICATOR_ORDER.indexOf(b.indicator) || byRule(a, b),
  );
}

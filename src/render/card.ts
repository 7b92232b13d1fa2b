import { byText, sortedUnique } from '../base/order.js';
import { acknowledgementOf } from '../engine/acknowledgement.js';
import type { Advisory, FiredDetail, HipEvaluation } from '../engine/evaluate.js';
import type { ConstructKind, Hip } from '../facts/definitions.js';
import { conditionFacts } from '../rulebook/condition-facts.js';
import type { Rule, Rulebook } from '../rulebook/types.js';
import { citationKeys, effectBlocks, evidenceTold } from './card-effects.js';
import type { ToldEvidence } from './card-effects.js';
import { extensionOf } from './card-extension.js';
import { RULE_SYSTEM, answersFor, cardUuid, constructTitle, hipTitle, shorten } from './card-types.js';
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
  /** Set for one card that speaks for both hips. */
  readonly isOfBoth?: true;
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
    computed: withPlainNames(rule, hip.computed),
    when,
    causes: fired.causes,
    named: fired.named,
  };
  const about = rule.type === 'clinical' || isAboutHip(rule, hip, context.rulebook) ? 'hip' : 'patient';
  const subject = about === 'hip' ? `${hipTitle(hip.hip)}, ${constructTitle(hip.construct)}` : 'This patient';
  const intent = fired.finding.options ? 'planning' : 'check';
  const label = context.rulebook.about.label;
  const citations = citationKeys(rule, scope, context.telling);
  const message = fillFirst(fired.finding.summary, scope);
  const uuid = cardUuid(rule.id, hip.hip, hip.construct, context);
  const acknowledgement = acknowledgementOf(
    advisory,
    context.telling === 'appointment-book' ? 'scheduler' : 'clinician',
    context.rulebook.about.dislocationFacts,
  );
  // A scheduler reads the booking card: what was found and what to prepare; numbers are for the surgeon's card.
  const evidence = fired.finding.before ? [] : evidenceTold(rule, scope, context.telling);
  const told = { fired, citations, acknowledgement, evidence };
  const card: Card = {
    uuid,
    summary: shorten(`${subject}: ${message}`),
    detail: detailOf(rule, hip, scope, { fired, evidence, context }),
    indicator: rule.indicator,
    source: { label, topic: { system: RULE_SYSTEM, code: rule.id, display: rule.title } },
    ...answersFor(uuid, intent, context),
    extension: { 'example.kotyle.advisory': extensionOf(rule, advisory, told, context) },
  };
  const { hip: side, construct } = hip;
  return { card, rule: rule.id, hip: side, construct, message, about, intent, acknowledgement };
}

/** What a rule computes on the hip's own facts is known under the rule's name for it too, as a range where it is one. */
function withPlainNames(rule: Rule, computed: HipEvaluation['computed']): HipEvaluation['computed'] {
  const plain = Object.entries(rule.compute ?? {}).flatMap(([name, compute]) => {
    const isPlain = 'computation' in compute && compute.with === undefined && compute.motionSet === undefined;
    const found = isPlain ? computed.get(compute.computation) : undefined;
    return found ? [[name, found] as const] : [];
  });
  return new Map([...computed, ...plain]);
}

/**
 * Something recorded of this hip is told of it; a finding about the record as a whole is not pinned on whichever hip
 * comes first.
 */
function isAboutHip(rule: Rule, hip: HipEvaluation, { factById }: Rulebook): boolean {
  const isOfHip = (id: string): boolean => {
    const definition = factById.get(id);
    return (
      definition?.scope === 'hip' &&
      definition.kind !== 'finding' &&
      hip.facts.get(id)?.state.status === 'present'
    );
  };
  if (conditionFacts(rule.when).some(isOfHip)) return true;
  const kinds = new Set(conditionFacts(rule.when).flatMap((id) => hip.facts.get(id)?.provenance.from ?? []));
  const mine = hip.findings.filter(({ from }) => from.some((name) => kinds.has(name)));
  return mine.some((finding) => finding.hip !== 'any');
}

function detailOf(
  rule: Rule,
  hip: HipEvaluation,
  scope: MessageScope,
  told: {
    readonly fired: FiredDetail;
    readonly evidence: readonly ToldEvidence[];
    readonly context: CardContext;
  },
): string {
  const { fired, evidence, context } = told;
  const { finding } = fired;
  const settles = settledBy(hip);
  const lines = [
    `**Found** ${fillAll(finding.found, scope).join('; ')}.`,
    ...actionLines(rule, fired, scope, settles),
    `**Sure?** ${fillFirst([finding.sure], scope)}.`,
    `**Not known** ${notKnown(fired, scope, { settles, context })}.`,
    `*${context.rulebook.about.deferral}*`,
  ];
  const assumed = fired.assumptions.length === 0 ? [] : [`Assumed: ${fired.assumptions.join('; ')}`];
  return [...lines, ...assumed, ...effectBlocks(evidence), ...sourceLines(rule, scope, context)].join('\n\n');
}

/** How many outcomes of this hip knowing a fact would help to settle. */
type Settles = (fact: string | undefined) => number;

function settledBy({ advisories }: HipEvaluation): Settles {
  const counts = new Map<string, number>();
  for (const { outcome, needs } of advisories)
    if (outcome === 'cannot-tell') for (const id of needs) counts.set(id, (counts.get(id) ?? 0) + 1);
  return (fact) => (fact === undefined ? 0 : (counts.get(fact) ?? 0));
}

/** What settles most comes first; of equals, what the rule names first. */
function bySettling<Item extends { readonly fact?: string | undefined }>(
  items: readonly Item[],
  settles: Settles,
): readonly Item[] {
  return [...items].sort((a, b) => settles(b.fact) - settles(a.fact));
}

function actionLines(
  rule: Rule,
  fired: FiredDetail,
  scope: MessageScope,
  settles: Settles,
): readonly string[] {
  const { options, checks, before, ready } = fired.finding;
  if (options) return [`**Options** ${fillAll(options, scope).join(' · ')}.`];
  if (checks) return [`**To check** ${fillAll(checks, scope).join(' · ')}.`];
  if (!before) throw new Error(`${rule.id}: a finding needs options, checks or work-up`);
  const isOpen = (id: string | undefined): boolean =>
    id === undefined || scope.facts.get(id)?.state.status !== 'present';
  const open = before.filter(({ fact, unless }) => isOpen(fact) && isOpen(unless));
  const items = bySettling(open, settles)
    .slice(0, 3)
    .map(({ says }) => says);
  const readyText = ready === undefined ? '' : ` **Have ready** ${ready}.`;
  return [`**Before surgery** ${items.join(' · ')}.${readyText}`];
}

/** What this advisory would look at and could not, and doubts about what it did see. */
function notKnown(
  fired: FiredDetail,
  scope: MessageScope,
  { settles, context }: { readonly settles: Settles; readonly context: CardContext },
): string {
  const missing = fired.finding.notKnown.filter(
    ({ fact }) => scope.facts.get(fact)?.state.status === 'unknown' && isExpected(fact, context),
  );
  const open = fired.causes.filter(({ truth }) => truth === 'unknown');
  const settlesCauses: Settles = (fact) =>
    fact === undefined ? 0 : open.filter(({ needs }) => needs.includes(fact)).length;
  const told = fired.causes.length === 0 ? missing : missing.filter(({ fact }) => settlesCauses(fact) > 0);
  const parts = bySettling(told, fired.causes.length === 0 ? settles : settlesCauses)
    .slice(0, 3)
    .map(({ says }) => says);
  const remarks = sortedUnique(fired.facts.flatMap((fact) => fact.remarks));
  const all = [parts.join(', '), ...remarks].filter((part) => part !== '');
  return all.length === 0 ? 'nothing this advisory uses' : all.join('; ');
}

/** Whether a missing measure is worth a word: the site records such, and at booking there is no plan yet. */
function isExpected(id: string, { rulebook, recorded, telling }: CardContext): boolean {
  const fact = rulebook.factById.get(id);
  if (fact?.kind !== 'measure') return true;
  if (recorded && !recorded.has(id)) return false;
  return (
    telling !== 'appointment-book' ||
    fact.stages.some((stage) => stage !== 'planned' && stage !== 'intraoperative')
  );
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

/**
 * Critical first, then warning, then info; inside each what the rulebook puts first, because that is what a ceiling
 * keeps; the rest by rule and hip, so that order says nothing else.
 */
export function sortCards(cards: readonly Card[], first: readonly string[]): readonly Card[] {
  const byRule = byText((card: Card) => `${card.source.topic.code} ${card.summary}`);
  const place = ({ source }: Card): number => {
    const index = first.indexOf(source.topic.code);
    return index < 0 ? first.length : index;
  };
  return [...cards].sort(
    (a, b) =>
      INDICATOR_ORDER.indexOf(a.indicator) - INDICATOR_ORDER.indexOf(b.indicator) ||
      place(a) - place(b) ||
      byRule(a, b),
  );
}

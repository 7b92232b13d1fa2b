import { lazy } from '../base/lazy.js';
import { acknowledgementOf } from '../engine/acknowledgement.js';
import type { Advisory, FiredDetail, HipEvaluation } from '../engine/evaluate.js';
import type { ConstructKind, Hip } from '../facts/definitions.js';
import { conditionFacts } from '../rulebook/condition-facts.js';
import type { Rule, Rulebook } from '../rulebook/types.js';
import { detailOf } from './card-detail.js';
import { citationKeys, evidenceTold, filledEffects } from './card-effects.js';
import { extensionOf } from './card-extension.js';
import { evidenceLinks } from './card-links.js';
import { RULE_SYSTEM, answersFor, cardUuid, constructTitle, hipTitle, shorten } from './card-types.js';
import type { Card, CardContext, Indicator } from './card-types.js';
import { fillFirst } from './message.js';
import type { MessageScope } from './message.js';

/**
 * A card with what is needed to order it, to join it with that of the other hip, and to know it again. The card itself
 * and its hash are written when first asked for: many a card is only named on another, or kept back.
 */
export interface AdvisoryCard {
  readonly card: Card;
  readonly rule: string;
  readonly indicator: Indicator;
  readonly summary: string;
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
  const message = fillFirst(fired.finding.summary, scope);
  const summary = shorten(`${subject}: ${message}`);
  // What can't be said must break the rule here, and not whoever asks for the card later.
  const sure = fillFirst([fired.finding.sure], scope);
  expectActions(rule, fired);
  const acknowledgement = lazy(() =>
    acknowledgementOf(advisory, {
      reader: context.telling === 'appointment-book' ? 'scheduler' : 'clinician',
      episodic: context.rulebook.about.dislocationFacts,
      nameSecret: context.nameSecret,
    }),
  );
  const card = lazy(() =>
    writeCard(
      { rule, advisory, hip, fired, scope, context },
      { summary, sure, intent, acknowledgement: acknowledgement() },
    ),
  );
  const { hip: side, construct } = hip;
  return {
    get card() {
      return card();
    },
    rule: rule.id,
    indicator: rule.indicator,
    summary,
    hip: side,
    construct,
    message,
    about,
    intent,
    get acknowledgement() {
      return acknowledgement();
    },
  };
}

interface Firing {
  readonly rule: Rule;
  readonly advisory: Advisory;
  readonly hip: HipEvaluation;
  readonly fired: FiredDetail;
  readonly scope: MessageScope;
  readonly context: CardContext;
}

function writeCard(
  firing: Firing,
  head: Pick<AdvisoryCard, 'summary' | 'intent' | 'acknowledgement'> & { readonly sure: string },
): Card {
  const { rule, advisory, hip, fired, scope, context } = firing;
  const { summary, sure, intent, acknowledgement } = head;
  const label = context.rulebook.about.label;
  const effects = filledEffects(rule, scope, context.telling);
  const citations = citationKeys(rule, effects);
  const uuid = cardUuid(rule.id, hip.hip, hip.construct, context);
  // A scheduler reads the booking card: what was found and what to prepare; numbers are for the surgeon's card.
  const evidence = fired.finding.before ? [] : evidenceTold(effects, context.rulebook);
  const told = { fired, citations, acknowledgement, evidence };
  return {
    uuid,
    summary,
    detail: detailOf(rule, hip, scope, { fired, sure, citations, evidence, context }),
    indicator: rule.indicator,
    source: { label, topic: { system: RULE_SYSTEM, code: rule.id, display: rule.title } },
    ...answersFor(uuid, intent, context),
    ...evidenceLinks(rule.id, context),
    extension: { 'example.kotyle.advisory': extensionOf(rule, advisory, told, context) },
  };
}

function expectActions({ id }: Rule, { finding: { options, checks, before } }: FiredDetail): void {
  if (!options && !checks && !before) throw new Error(`${id}: a finding needs options, checks or work-up`);
}

/** What a rule computes on the hip's own facts is known under the rule's name for it too, as a range where it is one. */
function withPlainNames(rule: Rule, computed: HipEvaluation['computed']): HipEvaluation['computed'] {
  if (!rule.compute) return computed;
  const named = new Map(computed);
  for (const [name, compute] of Object.entries(rule.compute)) {
    const isPlain = 'computation' in compute && compute.with === undefined && compute.motionSet === undefined;
    const found = isPlain ? computed.get(compute.computation) : undefined;
    if (found) named.set(name, found);
  }
  return named;
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

import { sortedUnique } from '../base/order.js';
import type { FiredDetail, HipEvaluation } from '../engine/evaluate.js';
import type { Rule } from '../rulebook/types.js';
import { effectBlocks } from './card-effects.js';
import type { ToldEvidence } from './card-effects.js';
import type { CardContext } from './card-types.js';
import { fillAll } from './message.js';
import type { MessageScope } from './message.js';
import { reviewDay, siteLine } from './site-lines.js';

/** The text of a card: what was found, what to do about it, how sure it is, what is not known, and where it comes from. */
export function detailOf(
  rule: Rule,
  hip: HipEvaluation,
  scope: MessageScope,
  told: {
    readonly fired: FiredDetail;
    readonly sure: string;
    readonly citations: readonly string[];
    readonly evidence: readonly ToldEvidence[];
    readonly context: CardContext;
  },
): string {
  const { fired, sure, citations, evidence, context } = told;
  const { finding } = fired;
  const settles = settledBy(hip);
  const lines = [
    `**Found** ${fillAll(finding.found, scope).join('; ')}.`,
    ...actionLines(fired, scope, settles),
    `**Sure?** ${sure}.`,
    `**Not known** ${notKnown(fired, scope, { settles, context })}.`,
    `*${context.rulebook.about.deferral}*`,
    ...siteLine(rule, finding, context),
  ];
  const assumed = fired.assumptions.length === 0 ? [] : [`Assumed: ${fired.assumptions.join('; ')}`];
  return [...lines, ...assumed, ...effectBlocks(evidence), ...sourceLines(rule, citations, context)].join(
    '\n\n',
  );
}

/** How many outcomes of this hip knowing a fact would help to settle. */
type Settles = (fact: string | undefined) => number;

function settledBy(hip: HipEvaluation): Settles {
  const counts = settling.get(hip) ?? countSettled(hip);
  settling.set(hip, counts);
  return (fact) => (fact === undefined ? 0 : (counts.get(fact) ?? 0));
}

/** All cards of a hip ask the same: counted once, for as long as the evaluation itself is kept. */
const settling = new WeakMap<HipEvaluation, ReadonlyMap<string, number>>();

function countSettled({ advisories }: HipEvaluation): ReadonlyMap<string, number> {
  const counts = new Map<string, number>();
  for (const { outcome, needs } of advisories)
    if (outcome === 'cannot-tell') for (const id of needs) counts.set(id, (counts.get(id) ?? 0) + 1);
  return counts;
}

/** What settles most comes first; of equals, what the rule names first. */
function bySettling<Item extends { readonly fact?: string | undefined }>(
  items: readonly Item[],
  settles: Settles,
): readonly Item[] {
  return [...items].sort((a, b) => settles(b.fact) - settles(a.fact));
}

function actionLines(fired: FiredDetail, scope: MessageScope, settles: Settles): readonly string[] {
  const { options, checks, before = [], ready } = fired.finding;
  if (options) return [`**Options** ${fillAll(options, scope).join(' · ')}.`];
  if (checks) return [`**To check** ${fillAll(checks, scope).join(' · ')}.`];
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

function sourceLines(rule: Rule, citations: readonly string[], context: CardContext): readonly string[] {
  const shorts = citations.map((key) => context.rulebook.citations.get(key)?.short ?? key);
  const sources = shorts.length === 0 ? (rule.basis ?? '') : shorts.join('; ');
  const overdue = context.evaluatedAt.slice(0, 10) > reviewDay(rule, context) ? ' · review overdue' : '';
  return [`Sources: ${sources}`, `${rule.id} ${rule.version} · ${context.rulebook.about.label}${overdue}`];
}

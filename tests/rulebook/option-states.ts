import { COMPUTATIONS } from '../../src/engine/computations.js';
import { asDecide, compileDecide } from '../../src/engine/compiled-decide.js';
import type { Advisory, HipEvaluation } from '../../src/engine/evaluate.js';
import { exactNumber } from '../../src/facts/fact.js';
import type { Fact } from '../../src/facts/fact.js';
import type { HipRecord } from '../../src/facts/patient-record.js';
import { advisoryCard } from '../../src/render/card.js';
import type { CardContext } from '../../src/render/card-types.js';
import type { Entry, Finding, Rule, Rulebook } from '../../src/rulebook/types.js';
import {
  clashesIn,
  completing,
  evaluateHip,
  leavesTheWord,
} from '../../src/workbench/check/check-opposing.js';
import type { Clash } from '../../src/workbench/check/check-opposing.js';
import { edgesFor, speaks } from '../../src/workbench/check/check-reach.js';
import type { ReadOption } from '../../src/workbench/check/option-directions.js';
import { readOptions } from '../../src/workbench/check/option-directions.js';
import { sampledHips } from '../../src/workbench/check/sampled-hips.js';
import type { Aim, Complete } from '../../src/workbench/check/sampled-hips.js';
import { each } from '../long-form.js';
import { searchState } from '../../src/workbench/check/search.js';
import type { Goal } from '../../src/workbench/check/search.js';

/** What one rule offers on one hip, on a card or on the page alone. */
export interface Offer {
  readonly rule: Rule;
  readonly advisory: Advisory;
  readonly finding: Finding;
  readonly options: readonly ReadOption[];
  /** The options as a reader sees them, one for each read. */
  readonly says: readonly string[];
  readonly detail: string;
  /** Why it could not be worded. */
  readonly failure?: string;
}

/** A hip, all that is known of it and worked out, and what it is offered. */
export interface State {
  readonly hip: HipEvaluation;
  readonly offers: readonly Offer[];
  readonly clashes: readonly Clash[];
}

/** Evaluates hips by one rulebook and renders what it says, cards and page alike. */
export interface Evaluator {
  readonly rulebook: Rulebook;
  readonly complete: Complete;
  readonly stateOf: (record: HipRecord) => Promise<State>;
}

/** Where the options of a construct are read. */
const ENTRY_OF: Readonly<Record<HipRecord['construct'], Entry>> = {
  planned: 'order-sign',
  'in-place': 'patient-view',
};

export function evaluator(rulebook: Rulebook): Evaluator {
  const decide = asDecide(compileDecide(rulebook.rules));
  const byId = new Map(rulebook.rules.map((rule) => [rule.id, rule]));
  return {
    rulebook,
    complete: completing(rulebook, COMPUTATIONS),
    async stateOf(record) {
      const entry = ENTRY_OF[record.construct];
      const hip = await evaluateHip(record, { rulebook, computations: COMPUTATIONS, decide, entry });
      const context: CardContext = { ...CALL, rulebook, entry, telling: entry };
      const offers = hip.advisories.flatMap((advisory): readonly Offer[] => {
        const rule = byId.get(advisory.rule);
        const finding = advisory.fired?.finding;
        if (advisory.broken && rule?.findings[0]) return [brokenOffer(rule, advisory, rule.findings[0])];
        return rule && finding && rule.entries.includes(entry)
          ? [offerOf({ rule, advisory, finding }, hip, context)]
          : [];
      });
      const speaking = new Map(offers.map(({ rule }) => [rule.id, rule]));
      const options = offers.flatMap((offer) => (leavesTheWord(offer.rule, speaking) ? [] : offer.options));
      return { hip, offers, clashes: clashesIn(options, hip) };
    },
  };
}

const CALL = {
  service: 'kotyle-order-sign',
  hookInstance: '00000000-0000-4000-8000-000000000001',
  iss: '-',
  evaluation: () => '00000000-0000-4000-8000-000000000002',
  evaluatedAt: '2026-11-26T10:00:00Z',
  engine: '0.1.0',
} as const;

function offerOf(
  { rule, advisory, finding }: Pick<Offer, 'rule' | 'advisory' | 'finding'>,
  hip: HipEvaluation,
  context: CardContext,
): Offer {
  const options = readOptions({ rule, rulebook: context.rulebook, facts: hip.facts, advisory });
  const read = { rule, advisory, finding, options };
  try {
    const { detail } = advisoryCard(rule, advisory, hip, context).card;
    const line = /^\*\*Options\*\* (.*)\.$/m.exec(detail)?.[1];
    return { ...read, says: line?.split(' · ') ?? [], detail };
  } catch (error) {
    return { ...read, options: [], says: [], detail: '', failure: String(error) };
  }
}

/** A rule that breaks says nothing: it stands by its first finding, so that it has a place. */
function brokenOffer(rule: Rule, advisory: Advisory, finding: Finding): Offer {
  const failure = 'could not be evaluated';
  return { rule, advisory, finding, options: [], says: [], detail: '', failure };
}

export interface Around {
  /** What the hips are made for. */
  readonly goals: readonly Goal[];
  /** Facts set so, whatever was drawn. */
  readonly fixed?: readonly Fact[];
  readonly concerns: (finding: Finding, rule: Rule) => boolean;
}

/** Hips made for the goals and, where both can be, for one finding after another, or each nth, that concerns them. */
export function hipsAround(
  { rulebook, complete }: Evaluator,
  { goals, fixed = [], concerns }: Around,
  { seed, each: count, nth = 1 }: { readonly seed: number; readonly each: number; readonly nth?: number },
): readonly HipRecord[] {
  const edges = edgesFor(rulebook.rules, rulebook);
  const findings = rulebook.rules.flatMap((rule) =>
    rule.findings
      .filter((finding) => concerns(finding, rule))
      .map((finding): Aim => [...goals, ...speaks(rule, finding)]),
  );
  const aims = [goals, ...each(nth, findings).filter((aim) => searchState(aim, edges).kind === 'state')];
  const drawn = sampledHips(aims, rulebook, { complete, seed, count: aims.length * count });
  return [...drawn].map((record) => ({
    ...record,
    facts: new Map([
      ...record.facts,
      ...fixed.map((fact) => [fact.id, { ...record.facts.get(fact.id), ...fact }] as const),
    ]),
  }));
}

export function numberIn({ hip }: State, id: string): number | undefined {
  return exactNumber(hip.facts.get(id) ?? hip.computed.get(id)?.fact);
}

export function codesIn({ hip }: State, id: string): readonly string[] {
  const state = hip.facts.get(id)?.state;
  return state?.status === 'present' && state.value.kind === 'code' ? state.value.codes : [];
}

export function isRecorded({ hip }: State, ...ids: readonly string[]): boolean {
  return ids.some((id) => {
    const state = hip.facts.get(id)?.state;
    return state?.status === 'present' && (state.value.kind !== 'flag' || state.value.flag);
  });
}

export function isUnknown({ hip }: State, ...ids: readonly string[]): boolean {
  return ids.every((id) => hip.facts.get(id)?.state.status === 'unknown');
}

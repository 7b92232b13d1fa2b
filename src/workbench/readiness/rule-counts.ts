import { SERVICES } from '../../advice/index.js';
import type { Advice, Hook } from '../../advice/index.js';
import type { Outcome } from '../../engine/evaluate.js';
import type { Rule, Rulebook } from '../../rulebook/types.js';
import { cardsTold } from './entry-counts.js';
import type { RuleFigures } from './readiness-types.js';

type Answer = Extract<Advice, { kind: 'answer' }>;

interface Counts {
  callsFiring: number;
  cards: number;
  keptByCeiling: number;
  readonly outcomes: Record<Outcome, number>;
}

const HOOKS: readonly Hook[] = SERVICES.map(({ hook }) => hook);

/** How often each rule fires: over calls, recognised calls and hips of the hooks at which it is asked. */
export class RuleCounts {
  readonly #rules: readonly Rule[];
  readonly #counts: ReadonlyMap<string, Counts>;
  readonly #askedAt: ReadonlyMap<Hook, ReadonlyMap<string, Counts>>;
  readonly #asked = new Map<Hook, { calls: number; recognised: number; hips: number }>();

  constructor({ rules }: Rulebook) {
    this.#rules = rules;
    this.#counts = new Map(rules.map(({ id }) => [id, noCounts()]));
    this.#askedAt = new Map(HOOKS.map((hook) => [hook, this.#countsAt(hook)]));
  }

  #countsAt(hook: Hook): ReadonlyMap<string, Counts> {
    const asked = this.#rules.filter(({ entries }) => entries.includes(hook));
    return new Map(asked.map(({ id }) => [id, this.#counts.get(id) ?? noCounts()]));
  }

  add(hook: Hook, advice: Advice): void {
    const asked = this.#asked.get(hook) ?? { calls: 0, recognised: 0, hips: 0 };
    this.#asked.set(hook, asked);
    asked.calls += 1;
    if (advice.kind !== 'answer' || advice.record?.recognised !== 'yes') return;
    asked.recognised += 1;
    asked.hips += advice.hips.length;
    this.#addOutcomes(hook, advice);
    for (const card of cardsTold(advice)) {
      const counts = this.#counts.get(card.source.topic.code);
      if (counts) counts.cards += 1;
    }
    for (const { card, why } of advice.kept) {
      const counts = why === 'ceiling' ? this.#counts.get(card.rule) : undefined;
      if (counts) counts.keptByCeiling += 1;
    }
  }

  /** Every rule is evaluated at every hook; only where it is asked does its outcome matter to anybody. */
  #addOutcomes(hook: Hook, { hips }: Answer): void {
    const firing = new Set<Counts>();
    for (const { advisories } of hips)
      for (const { rule, outcome } of advisories) {
        const counts = this.#askedAt.get(hook)?.get(rule);
        if (!counts) continue;
        counts.outcomes[outcome] += 1;
        if (outcome === 'fires') firing.add(counts);
      }
    for (const counts of firing) counts.callsFiring += 1;
  }

  /** `stateOf` says in words what the installation lets a rule do. */
  figures(stateOf: (rule: string, hooks: readonly Hook[]) => string): readonly RuleFigures[] {
    return this.#rules.map(({ id, title, indicator, entries, tells }) => {
      const asked = entries.map((hook) => this.#asked.get(hook) ?? { calls: 0, recognised: 0, hips: 0 });
      const sum = (name: 'calls' | 'recognised' | 'hips'): number =>
        asked.reduce((total, one) => total + one[name], 0);
      return {
        rule: id,
        title,
        indicator,
        tells: tells ?? 'card',
        hooks: entries,
        state: stateOf(id, entries),
        calls: sum('calls'),
        recognised: sum('recognised'),
        hips: sum('hips'),
        ...(this.#counts.get(id) ?? noCounts()),
      };
    });
  }
}

function noCounts(): Counts {
  return {
    callsFiring: 0,
    cards: 0,
    keptByCeiling: 0,
    outcomes: { fires: 0, 'cannot-tell': 0, 'does-not-fire': 0, 'not-applicable': 0 },
  };
}

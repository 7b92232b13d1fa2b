import { describe, expect, it } from 'vitest';
import { isReadable } from '../../src/workbench/check/option-directions.js';
import { pairedHips } from '../../src/workbench/check/paired-hips.js';
import { atMost, each } from '../long-form.js';
import { FAULTS, faulty } from './option-faults.js';
import { LAWS } from './option-laws.js';
import type { Law } from './option-laws.js';
import { evaluator, hipsAround } from './option-states.js';
import type { State } from './option-states.js';
import { UNREAD } from './option-unread.js';
import { shipped } from './shipped.js';

/** Hips drawn for each aim. */
const EACH = atMost(1, 3);
const SEED = 20261126;

const whole = evaluator(shipped);
const paired = pairedHips(shipped, whole.complete, SEED);
const hips = [...each(2, paired.amid), ...each(20, paired.apart)];
const sampled = [
  ...hips,
  ...LAWS.flatMap((law) => hipsAround(whole, law, { seed: SEED, each: EACH, nth: 2 })),
];
const states = Promise.all(sampled.map((hip) => whole.stateOf(hip)));

/** Every breach once, with how often it was met and the first hip it was met on. */
function told(states: readonly State[], law: Law): readonly string[] {
  const found = new Map<string, { count: number; readonly first: State }>();
  for (const state of states)
    for (const { offer, says, why } of law.breaches(state)) {
      const place = `${offer.rule.id} [${offer.rule.findings.indexOf(offer.finding)}]`;
      const key = `${place} "${says}": ${why}`;
      const known = found.get(key);
      if (known) known.count++;
      else found.set(key, { count: 1, first: state });
    }
  return [...found].map(([key, { count, first }]) => `${key} (${count}, first on ${hipText(first)})`);
}

/** The breach without its numbers and the hips it was met on. */
function kindOf(text: string): string {
  return text.replace(/ \(\d+, first on .*$/s, '').replaceAll(/-?\d+(?:\.\d+)?/g, '#');
}

function hipText({ hip }: State): string {
  return [...hip.facts.values()]
    .flatMap(({ id, state }) => {
      if (state.status !== 'present') return [];
      const { value } = state;
      if (value.kind === 'quantity') return [`${id} ${value.interval.low}`];
      return [value.kind === 'code' ? `${id} ${value.codes.join('+')}` : id];
    })
    .join(', ');
}

// Truth: clinician: each law is a line of the clinical decisions, its limits written out beside it.
describe('options of cards and of the page, on every pair of edge values of what they depend on:', () => {
  it('the sample holds each pair, in a few thousand hips instead of all combinations', () => {
    expect(paired.pairs.amid).toBeGreaterThan(100_000);
    expect(paired.amid.length).toBeLessThan(2_000);
    expect(paired.pairs.apart).toBeGreaterThan(50_000);
    expect(paired.apart.length).toBeLessThan(10_000);
  });

  it.each(LAWS)(
    '$name',
    async (law) => {
      const met = (await states).filter(law.applies);
      expect(told(met, law)).toEqual([]);
      const isAbout = shipped.rules.some((rule) => rule.findings.some((one) => law.concerns(one, rule)));
      if (isAbout || law.goals.length === 0) expect(met.length).toBeGreaterThan(0);
    },
    120_000,
  );
});

const known = new Map<Law, ReadonlySet<string>>();

/** The kinds of breaches without any fault. */
async function breachesBefore(law: Law): Promise<ReadonlySet<string>> {
  const before = known.get(law) ?? new Set(told((await states).filter(law.applies), law).map(kindOf));
  known.set(law, before);
  return before;
}

describe('a law notices', () => {
  const planted = LAWS.flatMap((law) => (FAULTS[law.name] ?? []).map((fault) => ({ law, fault })));

  it('at least one planted fault each', () => {
    expect(LAWS.map(({ name }) => name).filter((name) => !FAULTS[name])).toEqual([]);
    expect(Object.keys(FAULTS).filter((name) => !LAWS.some((law) => law.name === name))).toEqual([]);
  });

  it.each(planted)(
    '$fault.what ($law.name)',
    async ({ law, fault }) => {
      const rulebook = faulty(fault);
      expect(rulebook === undefined).toBe(fault.isRefused ?? false);
      if (!rulebook) return;
      const broken = evaluator(rulebook);
      const before = await breachesBefore(law);
      const own = hipsAround(broken, law, { seed: SEED, each: 1 });
      const some = each(3, hips);
      const after = await Promise.all([...own, ...some].map((hip) => broken.stateOf(hip)));
      const breaches = told(after.filter(law.applies), law);
      expect(breaches.filter((text) => !before.has(kindOf(text))).length).toBeGreaterThan(0);
    },
    120_000,
  );
});

describe('the words of options', () => {
  const texts = shipped.rules.flatMap((rule) =>
    rule.findings.flatMap(({ options = [] }) => options.map((text) => ({ rule, text }))),
  );

  it('are all read, or stand in the reviewed list with what they are', () => {
    const unread = texts.filter(({ rule, text }) => !isReadable(text, rule) && !Object.hasOwn(UNREAD, text));
    expect(unread.map(({ rule, text }) => `${rule.id}: ${text}`)).toEqual([]);
  });

  it('are listed only while they are written and not read', () => {
    const stale = Object.keys(UNREAD).filter(
      (listed) => !texts.some(({ rule, text }) => text === listed && !isReadable(text, rule)),
    );
    expect(stale).toEqual([]);
  });

  it('are noticed when nobody can tell what they mean', () => {
    const rulebook = faulty({
      what: 'an option in unknown words',
      rule: 'abductor-loss',
      change: (rule) => ({
        ...rule,
        findings: rule.findings.map((one) =>
          one.options ? { ...one, options: [...one.options, 'the cup as the wind blows'] } : one,
        ),
      }),
    });
    const rule = rulebook?.rules.find(({ id }) => id === 'abductor-loss');
    expect(rule && isReadable('the cup as the wind blows', rule)).toBe(false);
  });
});

import { describe, expect, it } from 'vitest';
import type { Fact } from '../../src/facts/fact.js';
import { citationKeys, effectBlocks, evidenceTold, filledEffects } from '../../src/render/card-effects.js';
import type { MessageScope } from '../../src/render/message.js';
import type { Effect, Rule } from '../../src/rulebook/types.js';
import { recorded } from '../engine/facts.js';
import { shipped } from '../rulebook/shipped.js';

/** Effects on a card: one heading for each outcome, one line for each study. */

const facts = new Map<string, Fact>([['procedure-kind', recorded('procedure-kind', 'primary')]]);

function scopeWith(named: MessageScope['named'] = new Map()): MessageScope {
  return {
    rulebook: shipped,
    facts,
    numbers: new Map(),
    computed: new Map(),
    when: { kind: 'all', truth: 'true', children: [] },
    causes: [],
    named,
  };
}

function effect(says: string, endpoint: Effect['endpoint'], ...citations: readonly string[]): Effect {
  return {
    fact: 'procedure-kind',
    says,
    endpoint,
    horizon: 'a year',
    population: 'some',
    citations: [...citations],
  };
}

function blocksOf(effects: readonly Effect[], named?: MessageScope['named']): readonly string[] {
  const rule = { id: 'r', effects } as unknown as Rule;
  return effectBlocks(evidenceTold(filledEffects(rule, scopeWith(named), 'order-sign'), shipped));
}

describe('effects on a card', () => {
  it('stand under the outcome that was counted, in the order of the rule', () => {
    expect(
      blocksOf([
        effect('first', 'dislocation', 'guo-2017'),
        effect('price', 'infection', 'pai-2021'),
        effect('second', 'dislocation', 'meek-2006'),
      ]),
    ).toEqual([
      'Evidence read on dislocation; effects overlap and do not add:\n- first\n- second',
      'Evidence read on infection:\n- price',
    ]);
  });

  it('of one study are one line, also where a third effect joins two that had nothing in common', () => {
    expect(
      blocksOf([effect('a', 'dislocation', 'guo-2017'), effect('b', 'dislocation', 'guo-2017')]),
    ).toEqual([
      'Evidence read on dislocation; effects overlap and do not add:\n- a; b (same source, told once)',
    ]);
    expect(
      blocksOf([
        effect('a', 'dislocation', 'guo-2017'),
        effect('c', 'dislocation', 'meek-2006'),
        effect('b', 'dislocation', 'guo-2017', 'meek-2006'),
      ]),
    ).toEqual([
      'Evidence read on dislocation; effects overlap and do not add:\n- a; c; b (same source, told once)',
    ]);
  });

  it('of a study that was told of for another outcome say so', () => {
    expect(
      blocksOf([effect('a', 'dislocation', 'guo-2017'), effect('b', 'infection', 'guo-2017')]).at(-1),
    ).toBe('Evidence read on infection:\n- b (study named above)');
  });

  it('without a source are not taken for one study', () => {
    expect(blocksOf([effect('a', 'dislocation'), effect('b', 'dislocation')])).toEqual([
      'Evidence read on dislocation; effects overlap and do not add:\n- a\n- b',
    ]);
  });

  it('that depend on a condition are told, and their sources named, only where it holds', () => {
    const effects = [effect('{if:spine-stiff}stiff spines', 'dislocation', 'guo-2017')];
    expect(blocksOf(effects, new Map([['spine-stiff', 'unknown']]))).toEqual([]);
    expect(blocksOf(effects, new Map([['spine-stiff', 'true']]))).toHaveLength(1);
    const rule = { id: 'r', effects } as unknown as Rule;
    const keys = (truth: 'true' | 'false'): readonly string[] =>
      citationKeys(rule, filledEffects(rule, scopeWith(new Map([['spine-stiff', truth]])), 'order-sign'));
    expect([keys('true'), keys('false')]).toEqual([['guo-2017'], []]);
  });
});

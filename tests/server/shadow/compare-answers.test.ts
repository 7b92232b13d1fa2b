import { describe, expect, it } from 'vitest';
import type { Answered } from '../../../src/server/shadow/answered.js';
import { differencesBetween } from '../../../src/server/shadow/compare-answers.js';

const card = { rule: 'steep', hip: 'left', construct: 'planned', indicator: 'info', words: 'steep' };
const answered: Answered = {
  recognised: 'yes',
  hips: [{ hip: 'left', construct: 'planned', outcomes: 'steep fires\nflat does-not-fire' }],
  cards: [card],
  broken: [],
};
const place = { hip: 'left', construct: 'planned' };

function withOutcomes(outcomes: string): Answered {
  return { ...answered, hips: [{ hip: 'left', construct: 'planned', outcomes }] };
}

describe('two answers to one call', () => {
  it('that are the same differ in nothing', () => {
    expect(differencesBetween(answered, structuredClone(answered))).toEqual([]);
    // The order in which a rulebook has its rules is no difference.
    expect(differencesBetween(answered, withOutcomes('flat does-not-fire\nsteep fires'))).toEqual([]);
  });

  it('differ outcome by outcome', () => {
    expect(differencesBetween(answered, withOutcomes('steep cannot-tell\nflat does-not-fire'))).toEqual([
      { kind: 'outcome', ...place, rule: 'steep', was: 'fires', would: 'cannot-tell' },
    ]);
    expect(differencesBetween(answered, withOutcomes('steep fires\nflat not-applicable'))).toEqual([
      { kind: 'outcome', ...place, rule: 'flat', was: 'does-not-fire', would: 'not-applicable' },
    ]);
  });

  it('do not differ by a rule only one has, until it has something to say', () => {
    const quiet = 'steep fires\nflat does-not-fire\nnew not-applicable';
    expect(differencesBetween(answered, withOutcomes(quiet))).toEqual([]);
    expect(differencesBetween(answered, withOutcomes('steep fires\nflat does-not-fire\nnew fires'))).toEqual([
      { kind: 'outcome', ...place, rule: 'new', was: 'none', would: 'fires' },
    ]);
    expect(differencesBetween(answered, withOutcomes('flat does-not-fire'))).toEqual([
      { kind: 'outcome', ...place, rule: 'steep', was: 'fires', would: 'none' },
    ]);
  });

  it('differ by a card that is there, is not, weighs otherwise or is worded otherwise; its words are not told', () => {
    const cards = (...given: Answered['cards']): Answered => ({ ...answered, cards: given });
    const about = { kind: 'card', rule: 'steep', ...place };
    expect(differencesBetween(answered, cards())).toEqual([{ ...about, was: 'info', would: 'none' }]);
    expect(differencesBetween(cards(), answered)).toEqual([{ ...about, was: 'none', would: 'info' }]);
    expect(differencesBetween(answered, cards({ ...card, indicator: 'warning' }))).toEqual([
      { ...about, was: 'info', would: 'warning' },
    ]);
    expect(differencesBetween(answered, cards({ ...card, words: 'steeper' }))).toEqual([
      { ...about, was: 'these words', would: 'other words' },
    ]);
  });

  it('differ by what was recognised, and by rules that broke in one', () => {
    const nothing: Answered = { recognised: 'no', hips: [], cards: [], broken: [] };
    expect(differencesBetween(nothing, answered)).toContainEqual({
      kind: 'outcome',
      was: 'no',
      would: 'yes',
    });
    expect(differencesBetween(answered, { ...answered, broken: ['flat'] })).toEqual([
      { kind: 'fault', rule: 'flat', would: 'could not be evaluated' },
    ]);
    expect(differencesBetween({ ...answered, broken: ['flat'] }, { ...answered, broken: ['flat'] })).toEqual(
      [],
    );
  });
});

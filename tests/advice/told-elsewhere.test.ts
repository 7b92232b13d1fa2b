import { describe, expect, it } from 'vitest';
import { COMPUTATION_IDS, newAdvisor } from '../../src/advice/index.js';
import type { Advisor } from '../../src/advice/index.js';
import type { Card } from '../../src/render/card-types.js';
import { buildRulebook } from '../../src/rulebook/build.js';
import { signedAnswer } from '../render/cards.js';
import { shippedPack } from '../rulebook/shipped.js';
import { mm, plan } from './signed.js';

/** What is found and not told on a card of its own: told on the page, or by another card. */

const STEEP = 'cup-inclination-outside-published';
const VERSION = 'cup-anteversion-outside-published';
const LENGTH = 'projected-leg-length-over-limit';
const steepAndLow = {
  measures: [...plan(65, 1, 2), mm('leg-length-change', 12), mm('leg-length-discrepancy', 0, 'native')],
};

/** The shipped rules, with members of some rules' files added. */
function advisorWith(members: Readonly<Record<string, Readonly<Record<string, unknown>>>>): Advisor {
  const files = shippedPack.files.map(({ path, content }) => {
    const id = path.split('/').at(-1)?.replace('.json', '') ?? '';
    const more = path.startsWith('advisories/') ? members[id] : undefined;
    return { path, content: more ? { ...(content as object), ...more } : content };
  });
  const result = buildRulebook({ files }, COMPUTATION_IDS);
  if (!result.ok) throw new Error(JSON.stringify(result.issues));
  return newAdvisor(result.rulebook);
}

async function told(members: Parameters<typeof advisorWith>[0]): Promise<{
  readonly cards: readonly string[];
  readonly page: readonly string[];
  readonly kept: readonly string[];
  readonly fired: readonly string[];
}> {
  const answer = await signedAnswer(steepAndLow, advisorWith(members));
  const outcomes = answer.hips.flatMap(({ advisories }) => advisories);
  return {
    cards: answer.cards.map(({ source }) => source.topic.code),
    page: (answer.pageOnly?.().cards ?? []).map(({ rule }) => rule),
    kept: answer.kept.map(({ card, why }) => `${card.rule} ${why}`),
    fired: outcomes.filter(({ outcome }) => outcome === 'fires').map(({ rule }) => rule),
  };
}

const isAbout =
  (rule: string) =>
  ({ source }: Card): boolean =>
    source.topic.code === rule;

describe('a rule that only the page tells', () => {
  it('fires in the evaluation, is worded for the page, and is on no card', async () => {
    // Truth: the same rule with and without the mark; nothing else of the answer moves.
    const plain = await told({});
    const paged = await told({ [LENGTH]: { tells: 'page' } });
    expect(plain.cards).toContain(LENGTH);
    expect(paged.cards).toEqual(plain.cards.filter((rule) => rule !== LENGTH));
    expect(paged.page).toEqual([...plain.page, LENGTH].sort());
    expect(paged.fired).toEqual(plain.fired);
  });
});

describe('a rule that leaves the word to another', () => {
  it('has no card where the other has one, and the answer says why', async () => {
    const { cards, kept, fired } = await told({ [VERSION]: { yieldsTo: [STEEP] } });
    expect(cards).toContain(STEEP);
    expect(cards).not.toContain(VERSION);
    expect(kept).toContain(`${VERSION} said-by-another`);
    expect(fired).toContain(VERSION);
  });

  it('is named on the card that has the word, and answering that card counts for both, as they are', async () => {
    const advisor = advisorWith({ [VERSION]: { yieldsTo: [STEEP] } });
    const [own] = (await signedAnswer(steepAndLow, advisorWith({}))).cards.filter(isAbout(VERSION));
    const answer = await signedAnswer(steepAndLow, advisor);
    const [steep] = answer.cards.filter(isAbout(STEEP));
    const message = own?.summary.split(': ').slice(1).join(': ');
    const [beside] = /Also found, on no card of its own: .*/.exec(steep?.detail ?? '') ?? [];
    expect(beside).toContain(message);
    expect(steep?.extension['example.kotyle.advisory']).toMatchObject({
      alsoFound: expect.arrayContaining([VERSION]) as unknown,
    });
    const hash = String(steep?.extension['example.kotyle.advisory']['acknowledgement']);
    const again = await signedAnswer({ ...steepAndLow, acknowledged: new Set([hash]) }, advisor);
    expect(again.cards.filter(isAbout(STEEP))).toEqual([]);
    expect(again.cards.filter(isAbout(VERSION))).toEqual([]);
  });

  it('brings an answered card back when what it left the word with is new or has changed', async () => {
    const advisor = advisorWith({ [VERSION]: { yieldsTo: [STEEP] } });
    const hashOf = async (version: number): Promise<string> => {
      const [steep] = (await signedAnswer({ measures: plan(65, version, 2) }, advisor)).cards.filter(
        isAbout(STEEP),
      );
      return String(steep?.extension['example.kotyle.advisory']['acknowledgement']);
    };
    const answered = new Set([await hashOf(15), await hashOf(0)]);
    const after = await signedAnswer({ ...steepAndLow, acknowledged: answered }, advisor);
    expect(after.cards.filter(isAbout(STEEP))).toHaveLength(1);
  });

  it('speaks where the other does not fire', async () => {
    const other = 'cup-inclination-above-classical';
    const { cards, kept } = await told({ [VERSION]: { yieldsTo: [other] } });
    expect(cards).toContain(VERSION);
    expect(kept).not.toContain(`${VERSION} said-by-another`);
  });

  it('speaks where the other leaves the word to a third that speaks, so that nothing is lost in a chain', async () => {
    const third = 'stem-anteversion-low';
    const { cards, kept } = await told({
      [STEEP]: { yieldsTo: [third] },
      [VERSION]: { yieldsTo: [STEEP] },
    });
    expect(cards).toContain(third);
    expect(cards).toContain(VERSION);
    expect(kept).toContain(`${STEEP} said-by-another`);
  });
});

describe('a rule that is worth a line', () => {
  it('is one line on the first card of the same hip, on no card of its own, and on the page', async () => {
    const lined = { [LENGTH]: { tells: 'line' } };
    const plain = await signedAnswer(steepAndLow, advisorWith({}));
    const answer = await signedAnswer(steepAndLow, advisorWith(lined));
    const message = plain.cards.find(isAbout(LENGTH))?.summary.split(': ').slice(1).join(': ') ?? 'none';
    expect(answer.cards.map(({ source }) => source.topic.code)).not.toContain(LENGTH);
    const carriers = answer.cards.filter(({ detail }) => detail.includes('Also, changing no option:'));
    expect(carriers).toEqual([answer.cards[0]]);
    expect(carriers[0]?.detail).toContain(message);
    expect((await told(lined)).page).toContain(LENGTH);
  });

  it('stands on the next card where the first was answered, and on none where all were', async () => {
    const advisor = advisorWith({ [LENGTH]: { tells: 'line' } });
    const { cards } = await signedAnswer(steepAndLow, advisor);
    const hashOf = ({ extension }: Card): string =>
      String(extension['example.kotyle.advisory']['acknowledgement']);
    const [first, second] = cards;
    if (!first || !second) throw new Error('expected two cards');
    const after = await signedAnswer({ ...steepAndLow, acknowledged: new Set([hashOf(first)]) }, advisor);
    expect(after.cards[0]?.uuid).toBe(second.uuid);
    expect(after.cards[0]?.detail).toContain('Also, changing no option:');
    const all = await signedAnswer({ ...steepAndLow, acknowledged: new Set(cards.map(hashOf)) }, advisor);
    expect(all.cards.filter(({ detail }) => detail.includes('changing no option'))).toEqual([]);
  });

  it('does not bring an answered card back when only the line changed', async () => {
    const advisor = advisorWith({ [LENGTH]: { tells: 'line' } });
    const hashes = async (longer: number): Promise<readonly unknown[]> => {
      const measures = [
        ...plan(65, 1, 2),
        mm('leg-length-change', longer),
        mm('leg-length-discrepancy', 0, 'native'),
      ];
      const { cards } = await signedAnswer({ measures }, advisor);
      return cards.map(({ extension }) => extension['example.kotyle.advisory']['acknowledgement']);
    };
    expect(await hashes(12)).toEqual(await hashes(16));
  });
});

import { describe, expect, it } from 'vitest';
import { newAdvisor } from '../../src/advice/index.js';
import { asDecide, compileDecide } from '../../src/engine/compiled-decide.js';
import { COMPUTATIONS } from '../../src/engine/computations.js';
import type { Card } from '../../src/render/card-types.js';
import { evaluatePatient } from '../../src/advice/evaluate-patient.js';
import { inputsFromBundle } from '../../src/advice/hook-inputs.js';
import { synthesizeHips } from '../../src/workbench/synthesize/synthesize-hips.js';
import { atMost } from '../long-form.js';
import { allPatientCards } from '../render/cards.js';
import { shipped, shippedPack } from './shipped.js';

/**
 * One study never counts twice on a card, and effects counted on different outcomes never stand under one heading
 * (clinical decisions §3 and §9). Truth: the rule and citation files, read here by themselves.
 */

interface WrittenEffect {
  readonly says: string;
  readonly endpoint: string;
  readonly citations: readonly string[];
}

const HIPS = atMost(300, 1000);
const written = new Map(
  shippedPack.files
    .filter(({ path }) => path.startsWith('advisories/'))
    .map(({ content }) => content as { readonly id: string; readonly effects?: readonly WrittenEffect[] })
    .map(({ id, effects = [] }) => [id, effects] as const),
);

const studyOf = new Map(
  shippedPack.files
    .filter(({ path }) => path.startsWith('citations/'))
    .map(({ content }) => content as { id: string; doi: string | null; pmid: string | null })
    .map(({ id, doi, pmid }) => [id, doi ?? pmid ?? id] as const),
);

/** The part of an effect's text that comes before its first placeholder: enough to know it by. */
function isSaid(effect: WrittenEffect, item: string): boolean {
  const pieces = effect.says
    .split(' || ')
    .map((one) => one.split(/\{[^}]*\}/).filter((piece) => piece.length > 8));
  return pieces.some((parts) => parts.length > 0 && parts.every((part) => item.includes(part)));
}

interface Heading {
  readonly endpoint: string;
  readonly items: readonly string[];
}

function headingsOf({ detail }: Card): readonly Heading[] {
  return detail.split('\n\n').flatMap((block) => {
    const [head = '', ...items] = block.split('\n');
    const found = /^Evidence read on ([^:;]+)[:;]/.exec(head);
    return found?.[1] === undefined ? [] : [{ endpoint: found[1].replaceAll(' ', '-'), items }];
  });
}

/** What is wrong with the evidence of a card; nothing when each study is told once and under its own outcome. */
function faultsOf(card: Card): readonly string[] {
  const rule = card.source.topic.code;
  const effects = written.get(rule) ?? [];
  const headings = headingsOf(card);
  const twice = headings
    .map(({ endpoint }) => endpoint)
    .filter((one, index, all) => all.indexOf(one) !== index);
  return [
    ...twice.map((endpoint) => `${rule}: ${endpoint} heads two groups`),
    ...headings.flatMap(({ endpoint, items }) => faultsUnder(rule, endpoint, items, effects)),
  ];
}

function faultsUnder(
  rule: string,
  endpoint: string,
  items: readonly string[],
  effects: readonly WrittenEffect[],
): readonly string[] {
  const seen = new Set<string>();
  return items.flatMap((item) => {
    const said = effects.filter((effect) => effect.endpoint === endpoint && isSaid(effect, item));
    if (said.length === 0) return [`${rule}: under ${endpoint} stands what is no effect on it: ${item}`];
    const studies = new Set(said.flatMap(({ citations }) => citations.map((key) => studyOf.get(key) ?? key)));
    const again = [...studies].filter((study) => seen.has(study));
    for (const study of studies) seen.add(study);
    return again.map((study) => `${rule}: ${study} counts twice under ${endpoint}`);
  });
}

async function syntheticCards(count: number): Promise<readonly Card[]> {
  const advisor = newAdvisor(shipped, COMPUTATIONS, asDecide(compileDecide(shipped.rules)));
  const setting = { rulebook: shipped, now: '2026-11-24T09:00:00Z', engine: '0.1.0' };
  const cards: Card[] = [];
  for (const { bundle } of synthesizeHips({ seed: 7, count, profile: 'fully-planned' })) {
    const { answers } = await evaluatePatient(inputsFromBundle(bundle, ['order-sign'], setting), advisor);
    for (const { answer } of answers)
      cards.push(...answer.cards, ...(answer.pageOnly?.().cards.map(({ card }) => card) ?? []));
  }
  return cards;
}

describe('the evidence on a card', () => {
  it('tells a study once and under its own outcome on every card of hundreds of invented hips', async () => {
    const cards = await syntheticCards(HIPS);
    const told = cards.filter((card) => headingsOf(card).length > 0);
    expect(told.length).toBeGreaterThan(HIPS);
    expect([...new Set(told.flatMap(faultsOf))]).toEqual([]);
  }, 120_000);

  it('does so on every card of the test patients, some of which tell of several outcomes', async () => {
    const cards = (await allPatientCards()).map(({ card }) => card);
    expect(cards.some((card) => headingsOf(card).length > 2)).toBe(true);
    expect([...new Set(cards.flatMap(faultsOf))]).toEqual([]);
  });

  it('would be found wanting if a group held another outcome, a study stood twice, or a heading came again', () => {
    const [rule, effects] = [...written].find(([, all]) => {
      const [first, second] = all;
      return first !== undefined && second !== undefined && first.endpoint !== second.endpoint;
    }) ?? ['none', []];
    const [first, second] = effects;
    if (!first || !second) throw new Error('expected a rule with effects on two outcomes');
    const plain = ({ says }: WrittenEffect): string => `- ${says.replaceAll(/\{[^}]*\}/g, '1')}`;
    const heading = `Evidence read on ${first.endpoint.replaceAll('-', ' ')}`;
    const cardWith = (detail: string): Card =>
      ({ detail, source: { topic: { code: rule } } }) as unknown as Card;
    expect(faultsOf(cardWith(`${heading}:\n${plain(first)}`))).toEqual([]);
    expect(faultsOf(cardWith(`${heading}:\n${plain(first)}\n${plain(second)}`))).not.toEqual([]);
    expect(faultsOf(cardWith(`${heading}:\n${plain(first)}\n\n${heading}:\n${plain(first)}`))).not.toEqual(
      [],
    );
    if (first.citations.length > 0)
      expect(faultsOf(cardWith(`${heading}:\n${plain(first)}\n${plain(first)}`))).not.toEqual([]);
  });
});

describe('the sources of the rulebook', () => {
  it('are each one file: no two have the same DOI or PMID', () => {
    const citations = [...shipped.citations.values()];
    for (const member of ['doi', 'pmid'] as const) {
      const all = citations.flatMap((one) => one[member]?.toLowerCase() ?? []);
      expect(all.filter((one, index) => all.indexOf(one) !== index)).toEqual([]);
    }
  });
});

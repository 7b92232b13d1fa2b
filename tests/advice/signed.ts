import type { Advisory } from '../../src/engine/evaluate.js';
import type { JsonObject } from '../../src/fhir/json.js';
import type { Card } from '../../src/render/card-types.js';
import { coded, measure, quantity, searchset } from '../facts/records.js';
import { fiveLines, signedAnswer } from '../render/cards.js';
import type { SignedCase } from '../render/cards.js';

/** One rule asked about one signed order: its outcome, and its card where it fires. */
export interface Asked {
  readonly outcome: Advisory['outcome'];
  readonly needs: readonly string[];
  readonly card: Card | undefined;
  /** The five lines without their markup; empty without a card. */
  readonly lines: readonly string[];
}

export async function ask(rule: string, given: SignedCase): Promise<Asked> {
  const { answer, advisory } = await asked(rule, given);
  const card = answer.cards.find(({ source }) => source.topic.code === rule);
  const lines = card ? fiveLines(card) : [];
  return { outcome: advisory.outcome, needs: advisory.needs, card, lines };
}

/** The same, and where the rule tells what it found. */
export interface Told extends Asked {
  /** On a card, on the page only, or left to another card. */
  readonly place: 'card' | 'page' | 'elsewhere' | 'nowhere';
  /** Rules that have a card. */
  readonly cards: readonly string[];
}

/** One rule asked about one signed order, wherever it speaks. */
export async function told(rule: string, given: SignedCase): Promise<Told> {
  const { answer, advisory } = await asked(rule, given);
  const own = answer.cards.find(({ source }) => source.topic.code === rule);
  const page = answer.pageOnly?.().cards.find((one) => one.rule === rule)?.card;
  const kept = answer.kept.find((one) => one.card.rule === rule)?.card.card;
  const card = own ?? page ?? kept;
  return {
    outcome: advisory.outcome,
    needs: advisory.needs,
    place: own ? 'card' : page ? 'page' : kept ? 'elsewhere' : 'nowhere',
    card,
    lines: card ? fiveLines(card) : [],
    cards: answer.cards.map(({ source }) => source.topic.code),
  };
}

async function asked(
  rule: string,
  given: SignedCase,
): Promise<{ readonly answer: Awaited<ReturnType<typeof signedAnswer>>; readonly advisory: Advisory }> {
  // Earlier procedures and implants were looked for; there are none unless given.
  const looked = { procedures: searchset(), devices: searchset(), deviceUses: searchset() };
  const answer = await signedAnswer({ ...given, prefetch: { ...looked, ...given.prefetch } });
  if (answer.faults.length > 0) throw new Error(String(answer.faults[0]?.error));
  const [advisory] = answer.hips.flatMap(({ advisories }) => advisories.filter((one) => one.rule === rule));
  if (!advisory) throw new Error(`no outcome of ${rule}`);
  return { answer, advisory };
}

const deg = (code: string, value: number): JsonObject => measure(code, quantity(value, 'deg'));
export const mm = (code: string, value: number, stage = 'planned'): JsonObject =>
  measure(code, quantity(value, 'mm'), { stages: [stage] });

/** A planned cup and stem, and the approach. */
export function plan(
  inclination: number,
  anteversion: number,
  stem: number,
  approach?: string,
): readonly JsonObject[] {
  return [
    deg('cup-inclination', inclination),
    deg('cup-anteversion', anteversion),
    deg('stem-anteversion', stem),
    ...(approach === undefined ? [] : [measure('surgical-approach', coded(approach))]),
  ];
}

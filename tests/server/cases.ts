import { expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { checkResponse } from '../protocol/logical-model-check.js';
import { BOOKING_PATH, cardsOf, ORDER_PATH, planned, post, testApp, TEXTBOOK } from './test-service.js';
import type { HookCall, WireCard } from './test-service.js';

const app = testApp();
export const SNOMED = 'http://snomed.info/sct';
export const UCUM = 'http://unitsofmeasure.org';
export const SIDES = { left: '7771000', right: '24028007' } as const;

/** The cards for a call, which must be a success. */
export async function ask(call: HookCall): Promise<readonly WireCard[]> {
  const reply = await post(app, call.hook === 'order-sign' ? ORDER_PATH : BOOKING_PATH, call);
  return cardsOf(reply);
}

/** Indicator and rule of each card. */
export function summaries(cards: readonly WireCard[]): readonly string[] {
  return cards.map((card) => `${card.indicator} ${card.source.topic.code}`);
}

/** The textbook plan with its cup inclination replaced. */
export function withInclination(...instead: readonly JsonObject[]): readonly JsonObject[] {
  return [...TEXTBOOK.slice(1), ...instead];
}

/** A copy without the members named. */
export function without(resource: JsonObject, ...members: readonly string[]): JsonObject {
  return Object.fromEntries(Object.entries(resource).filter(([name]) => !members.includes(name)));
}

export function withoutPrefetch({ prefetch, ...bare }: HookCall): Omit<HookCall, 'prefetch'> {
  expect(prefetch).toBeDefined();
  return bare;
}

export const INCLINATION = planned('cup-inclination', 40, 'deg');
export const STEEP = planned('cup-inclination', 60, 'deg');

export const UNREADABLE = 'info record-unreadable';
export const IMPOSSIBLE = 'warning measure-implausible-or-conflicting';
export const SIDE = 'critical hip-side-conflict';
export const STRANGER = 'critical other-patient-record';

interface Case {
  readonly call: HookCall;
  readonly cards: readonly string[];
  /** What the detail of the first card must say. */
  readonly says?: RegExp;
  /** What no card may say: the value that had to be left alone. */
  readonly never?: RegExp;
}

/** One test per case: exactly these cards, with these words and without those. */
export function told(cases: Readonly<Record<string, Case>>): void {
  for (const [what, { call, cards, says, never }] of Object.entries(cases)) {
    it(what, async () => {
      const answer = await ask(call);
      expect(summaries(answer)).toEqual(cards);
      if (says) expect(answer[0]?.detail).toMatch(says);
      if (never) for (const card of answer) expect(card.detail).not.toMatch(never);
      // C1 to C22, G4.
      expect(checkResponse({ cards: answer })).toEqual([]);
    });
  }
}

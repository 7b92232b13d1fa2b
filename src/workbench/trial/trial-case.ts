import type { Hook } from '../../advice/index.js';
import type { Outcome } from '../../engine/evaluate.js';
import type { ConstructKind, Hip } from '../../facts/definitions.js';
import type { JsonObject } from '../../fhir/json.js';
import { TRIED_HOOKS } from '../test-patients.js';
import type { ExpectedCard, TestPatient } from '../test-patients.js';

/** One call of one test patient, and what must come of it. */
export interface TrialCase {
  /** The test patient, or file and number of an edge case. */
  readonly name: string;
  readonly hook: Hook;
  readonly bundle: JsonObject;
  /** Prefetch sets that do not arrive. */
  readonly unread?: readonly string[];
  readonly now: string;
  readonly teaches: string;
  readonly expects: CardsExpected | OutcomeExpected | FactsExpected;
}

/** Exactly these cards, whatever else is found. */
export interface CardsExpected {
  readonly kind: 'cards';
  readonly cards: readonly ExpectedCard[];
}

/** One outcome of one rule; other rules may say what they like. */
export interface OutcomeExpected {
  readonly kind: 'outcome';
  readonly rule: string;
  readonly outcome: Outcome;
  readonly hip?: Hip;
  readonly construct?: ConstructKind;
  /** Phrases the card must hold, and phrases it must not hold. */
  readonly says: readonly string[];
  readonly never: readonly string[];
  /** Facts that "cannot tell" must name, where the case says. */
  readonly needs?: readonly string[];
}

/** What must be known of a patient of whom one code is recorded. */
export interface FactsExpected {
  readonly kind: 'facts';
  /** Of these facts, exactly those of the next two lists are present or too unclear to tell, on whichever hip. */
  readonly among: readonly string[];
  readonly present: readonly string[];
  readonly unclear: readonly string[];
  /** The kind of operation the planned hip must have; `none` when the order must not be taken for a hip operation. */
  readonly operation?: string;
  /** Whether nothing may be told because the hip is being operated on. */
  readonly silenced: boolean;
}

/** The calls of test patients, one for each hook their expectation lists. */
export function casesOf(patients: readonly TestPatient[]): readonly TrialCase[] {
  return patients.flatMap(({ name, bundle, expected }) =>
    TRIED_HOOKS.flatMap((hook): readonly TrialCase[] => {
      const cards = expected.cards[hook];
      if (!cards) return [];
      const { now, teaches } = expected;
      return [{ name, hook, bundle, now, teaches, expects: { kind: 'cards', cards } }];
    }),
  );
}

import type { Outcome } from '../../engine/evaluate.js';
import type { Advisor } from '../../advice/index.js';
import { evaluatePatient } from '../../advice/evaluate-patient.js';
import { HOOKS_BY_NAME, inputsFromBundle } from '../../advice/hook-inputs.js';
import { readableEvaluation } from '../evaluate/readable.js';
import type { ReadableEvaluation } from '../evaluate/readable.js';
import type { TestPatient } from '../test-patients.js';

/** How a result reaches the reader: on a card, on the page alone, kept back behind another card, or as an outcome listed. */
export type Place = 'card' | 'page' | 'kept' | 'cannot-tell' | 'does-not-fire';

/** What one rule tells of one patient. */
export interface ToldResult {
  readonly rule: string;
  readonly place: Place;
  readonly hook: string;
  /** The lines as they are read, without markup. */
  readonly lines: readonly string[];
}

/** What is told of one patient, fullest place first. */
export interface ToldPatient {
  readonly name: string;
  readonly teaches: string;
  readonly results: readonly ToldResult[];
}

/** Asks at every hook and collects what each rule tells, once for each wording. */
export async function toldOf(
  { name, bundle, expected }: TestPatient,
  advisor: Advisor,
  engine: string,
): Promise<ToldPatient> {
  const { rulebook } = advisor;
  const inputs = inputsFromBundle(bundle, HOOKS_BY_NAME.all, { rulebook, now: expected.now, engine });
  const { answers } = await evaluatePatient(inputs, advisor);
  const results = answers.length === 0 ? [] : resultsOf(readableEvaluation(answers, rulebook));
  return { name, teaches: expected.teaches, results };
}

function resultsOf({ hooks, hips }: ReadableEvaluation): readonly ToldResult[] {
  const cards = hooks.flatMap(({ hook, cards: shown }) =>
    shown.flatMap(({ card, sameAs }) =>
      sameAs === undefined ? [{ ...toldBy(card), place: 'card' as const, hook }] : [],
    ),
  );
  const page = hooks.flatMap(({ hook, pageOnly }) =>
    pageOnly.map((card) => ({ ...toldBy(card), place: 'page' as const, hook })),
  );
  const told = new Set([...cards, ...page].map(({ rule }) => rule));
  const outcomes = hips.flatMap(({ hook, rules }) =>
    rules
      .filter(({ rule }) => !told.has(rule))
      .flatMap(({ rule, outcome, says, needs }): readonly ToldResult[] => {
        const place = PLACE_OF[outcome];
        const line = needs.length === 0 ? says : `${says} Missing: ${needs.join(', ')}.`;
        return place === undefined ? [] : [{ rule, place, hook, lines: [line] }];
      }),
  );
  return once([...cards, ...page, ...outcomes]);
}

const PLACE_OF: Readonly<Record<Outcome, Place | undefined>> = {
  fires: 'kept',
  'cannot-tell': 'cannot-tell',
  'does-not-fire': 'does-not-fire',
  'not-applicable': undefined,
};

function toldBy(card: {
  readonly summary: string;
  readonly detail: string;
  readonly source: { readonly topic: { readonly code: string } };
}): Pick<ToldResult, 'rule' | 'lines'> {
  const lines = card.detail
    .split('\n')
    .filter((line) => line !== '' && !line.startsWith('*Advisory'))
    .map((line) =>
      line
        .replace(/^- /, '')
        .replace('?**', '**')
        .replaceAll(/\*\*([^*]+)\*\*/g, '$1:'),
    );
  return { rule: card.source.topic.code, lines: [card.summary, ...lines] };
}

/** The same words at a second hook are left out. */
function once(results: readonly ToldResult[]): readonly ToldResult[] {
  return results.filter(
    ({ rule, place, lines }, index) =>
      !results
        .slice(0, index)
        .some(
          (before) =>
            before.rule === rule && before.place === place && before.lines.join('\n') === lines.join('\n'),
        ),
  );
}

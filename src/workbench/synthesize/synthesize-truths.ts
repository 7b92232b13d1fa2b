import { drawComorbidity } from './draw-comorbidity.js';
import { drawFemur } from './draw-femur.js';
import { drawInPlace, drawOtherHip } from './draw-in-place.js';
import { drawOperation } from './draw-operation.js';
import { drawPerson } from './draw-person.js';
import { drawPlan } from './draw-plan.js';
import { drawSpine } from './draw-spine.js';
import { Draws } from './draws.js';
import { POPULATION } from './population.js';
import type { Population } from './population-schema.js';
import type { Sampling } from './sampling.js';
import type { SyntheticTruth } from './truth.js';

export interface TruthOptions {
  /** Any integer from 0 up to 2^53 - 1. */
  readonly seed: number;
  readonly count: number;
  /** Index of the first patient: runs may be cut anywhere. */
  readonly from?: number;
  /** The day of booking; the default is the day of the shipped test patients. */
  readonly on?: string;
  /** Other numbers than the shipped ones. */
  readonly population?: Population;
}

export const BOOKING_DAY = '2026-11-24';

/** Invented hips without their records. Patient i is the same whether drawn alone or in a run. */
export function* synthesizeTruths(options: TruthOptions): Generator<SyntheticTruth, void, undefined> {
  for (const sampling of samplings(options)) yield drawTruth(sampling);
}

/** One patient's draws after another, holding none. */
export function* samplings(options: TruthOptions): Generator<Sampling & { readonly index: number }, void> {
  const { seed, count, from = 0, on = BOOKING_DAY, population = POPULATION } = options;
  checkWhole({ seed, count, from });
  for (let index = from; index < from + count; index += 1)
    yield { draws: new Draws(seed, index), population, on, index };
}

function checkWhole(numbers: Readonly<Record<string, number>>): void {
  for (const [name, value] of Object.entries(numbers))
    if (!Number.isSafeInteger(value) || value < 0)
      throw new RangeError(`${name} must be a whole number from 0, got ${value}`);
}

export function drawTruth(sampling: Sampling & { readonly index: number }): SyntheticTruth {
  const operation = drawOperation(sampling);
  const person = drawPerson(sampling, operation);
  const comorbidity = drawComorbidity(sampling, person, operation);
  const femur = drawFemur(sampling, person, operation, comorbidity);
  const inPlace = drawInPlace(sampling, person, operation);
  const otherHip = drawOtherHip(sampling, person);
  return {
    index: sampling.index,
    person,
    operation,
    comorbidity,
    spine: drawSpine(sampling, person, comorbidity),
    femur,
    plan: drawPlan(sampling, { person, operation, femur, inPlace }),
    ...(inPlace && { inPlace }),
    ...(otherHip && { otherHip }),
  };
}

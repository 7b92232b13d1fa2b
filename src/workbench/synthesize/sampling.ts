import type { Draws } from './draws.js';
import type { Population, Spread } from './population-schema.js';

/** What every draw of one patient stands on. */
export interface Sampling {
  readonly draws: Draws;
  readonly population: Population;
  /** The day of booking. */
  readonly on: string;
}

export type Limits = readonly [number, number];

/** Draws from a normal law cut off at limits, to a step. Values outside are drawn again, so the law inside keeps its form. */
export function drawWithin(
  { draws }: Sampling,
  name: string,
  law: Pick<Spread, 'mean' | 'sd'>,
  limits: Limits,
  step = 1,
): number {
  const [low, high] = limits;
  for (let turn = 0; turn < MOST_TURNS; turn += 1) {
    const value = toStep(law.mean + law.sd * draws.normal(name, turn), step);
    if (value >= low && value <= high) return value;
  }
  // The limits leave nearly nothing of the law: its nearest value inside them.
  return toStep(Math.min(high, Math.max(low, law.mean)), step);
}

const MOST_TURNS = 50;

export function toStep(value: number, step: number): number {
  const inverse = Math.round(1 / step);
  const rounded = step >= 1 ? Math.round(value / step) * step : Math.round(value * inverse) / inverse;
  return rounded === 0 ? 0 : rounded;
}

const DAY = 86_400_000;

/** The day so many days before another. */
export function daysBefore(day: string, days: number): string {
  return new Date(Date.parse(day) - Math.round(days) * DAY).toISOString().slice(0, 10);
}

const DAYS_OF_YEAR = 365.25;

export function yearsBefore(day: string, years: number): string {
  return daysBefore(day, years * DAYS_OF_YEAR);
}

import type { Interval } from './interval.js';

const DAY = 86_400_000;
const YEAR = 365.25 * DAY;

/** Exact to the day where both dates name one: zones do not matter over years. To a hundredth of a year. */
export function yearsBetween(start: string, end: string): Interval {
  const [first, last] = [daysOf(start), daysOf(end)];
  return {
    low: hundredths((last.low - first.high) / YEAR),
    high: hundredths((last.high - first.low) / YEAR),
  };
}

function daysOf(date: string): Interval {
  const [year = '', month, day] = date.slice(0, 10).split('-');
  const low = Date.UTC(Number(year), month === undefined ? 0 : Number(month) - 1, Number(day ?? 1));
  if (day !== undefined) return { low, high: low };
  const next =
    month === undefined ? Date.UTC(Number(year) + 1, 0, 1) : Date.UTC(Number(year), Number(month), 1);
  return { low, high: next - DAY };
}

function hundredths(years: number): number {
  return Math.round(years * 100) / 100;
}

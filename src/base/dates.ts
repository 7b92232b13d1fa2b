/**
 * A FHIR date or dateTime as the span of instants it may mean, in milliseconds since 1970 UTC.
 * `2026` spans a year; a date without zone spans it in every zone that exists (UTC-12 to UTC+14).
 */
export interface Span {
  readonly from: number;
  readonly to: number;
}

const HOUR = 3_600_000;
const DATE =
  /^(\d{4})(?:-(\d{2})(?:-(\d{2})(?:T(\d{2}):(\d{2}):(\d{2})(?:\.(\d+))?(Z|[+-]\d{2}:\d{2}))?)?)?$/;

/** Reads a FHIR date, dateTime or instant; undefined when it is none, or names a day that does not exist. */
export function readFhirDate(text: unknown): Span | undefined {
  const parts = typeof text === 'string' ? DATE.exec(text) : null;
  if (!parts) return undefined;
  const [, year = '', month, day, hour, minute, second, fraction, zone] = parts;
  // R4 years run from 0001; the calendar functions of the language read 0 to 99 as the twentieth century.
  if (Number(year) < 100 || !isRealDay(Number(year), month, day)) return undefined;
  if (hour === undefined) return spanOfDay(Number(year), month, day);
  if (Number(hour) > 23 || Number(minute) > 59 || Number(second) > 60) return undefined;
  if (!isRealZone(zone ?? 'Z')) return undefined;
  const millis = Number(`0.${fraction ?? '0'}`) * 1000;
  const local = Date.UTC(
    Number(year),
    Number(month) - 1,
    Number(day),
    Number(hour),
    Number(minute),
    Number(second),
  );
  const instant = local + Math.trunc(millis) - zoneOffset(zone ?? 'Z');
  return { from: instant, to: instant };
}

/** Zones that exist: from 12 hours behind to 14 hours ahead. */
function isRealZone(zone: string): boolean {
  if (zone === 'Z') return true;
  const minutes = Number(zone.slice(4, 6));
  const offset = zoneOffset(zone) / HOUR;
  return minutes < 60 && offset >= -12 && offset <= 14;
}

function isRealDay(year: number, month: string | undefined, day: string | undefined): boolean {
  if (month === undefined) return true;
  if (Number(month) < 1 || Number(month) > 12) return false;
  return day === undefined || (Number(day) >= 1 && Number(day) <= daysInMonth(year, Number(month)));
}

function daysInMonth(year: number, month: number): number {
  return new Date(Date.UTC(year, month, 0)).getUTCDate();
}

function spanOfDay(year: number, month: string | undefined, day: string | undefined): Span {
  const first = Date.UTC(
    year,
    month === undefined ? 0 : Number(month) - 1,
    day === undefined ? 1 : Number(day),
  );
  const next =
    month === undefined
      ? Date.UTC(year + 1, 0, 1)
      : day === undefined
        ? Date.UTC(year, Number(month), 1)
        : first + 24 * HOUR;
  return { from: first - 14 * HOUR, to: next - 1 + 12 * HOUR };
}

function zoneOffset(zone: string): number {
  if (zone === 'Z') return 0;
  const sign = zone.startsWith('-') ? -1 : 1;
  return sign * (Number(zone.slice(1, 3)) * HOUR + Number(zone.slice(4, 6)) * 60_000);
}

const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'] as const;

/** A date for a reader, as precise as it was stated: `2 Nov 2026`, `Nov 2026`, `2026`. */
export function formatDate(text: string): string {
  const [year = '', month, day] = text.slice(0, 10).split('-');
  const name = month === undefined ? undefined : MONTHS[Number(month) - 1];
  if (name === undefined) return year;
  return day === undefined ? `${name} ${year}` : `${Number(day)} ${name} ${year}`;
}

/** Whether a text is a day of the calendar, such as 2026-11-02. */
export function isDay(text: string): boolean {
  return text.length === 10 && readFhirDate(text) !== undefined;
}

/** The day of an instant in UTC, wherever it was written down. */
export function utcDay(instant: string): string {
  return new Date(Date.parse(instant)).toISOString().slice(0, 10);
}

/** The same time of day so many months ago; a day that month does not have is its last. */
export function monthsBefore(now: number, months: number): number {
  const then = new Date(now);
  const day = then.getUTCDate();
  then.setUTCMonth(then.getUTCMonth() - months);
  if (then.getUTCDate() !== day) then.setUTCDate(0);
  return then.getTime();
}

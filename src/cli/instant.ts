import { CallError } from './io.js';

/** The instant a call names with `--now`, or this moment; CallError when it is neither a day nor an instant with its zone. */
export function instantOf(now: string | undefined): string {
  return now === undefined ? new Date().toISOString() : readInstant(now, '--now');
}

/** An instant, in UTC; a day begins at midnight there. CallError naming the option when it is none. */
export function readInstant(now: string, option: string): string {
  const isInstant = /^\d{4}-\d\d-\d\d(T\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:\d\d))?$/.test(now);
  if (!isInstant || Number.isNaN(Date.parse(now)))
    throw new CallError(
      `${option}: expected a day or an instant with its zone, found ${now}`,
      'such as 2026-11-24 or 2026-11-24T10:00:00Z',
    );
  return new Date(now).toISOString();
}

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { formatDate, readFhirDate } from '../../src/base/dates.js';

const HOUR = 3_600_000;
const utc = (text: string): number => Date.parse(text);

describe('a FHIR date', () => {
  it.each(['2024-02-31', '2023-02-29', '1900-02-29', '2024-04-31', '2024-13-01', '2024-00-10', '2024-01-00'])(
    'that names no day of the calendar, %s, is none',
    (text) => {
      // Truth: the Gregorian calendar; 1900 was no leap year.
      expect(readFhirDate(text)).toBeUndefined();
    },
  );

  it('may be a leap day', () => {
    // Truth: the Gregorian calendar; 2000 was a leap year although 1900 was not.
    expect(readFhirDate('2024-02-29')).toBeDefined();
    expect(readFhirDate('2000-02-29')).toBeDefined();
  });

  it('agrees with the calendar of the machine on every day of a hundred years', () => {
    // Truth: independent implementation; a day exists when Date.UTC gives it back.
    fc.assert(
      fc.property(
        fc.integer({ min: 1900, max: 2099 }),
        fc.integer({ min: 0, max: 14 }),
        fc.integer({ min: 0, max: 33 }),
        (year, month, day) => {
          const two = (value: number): string => String(value).padStart(2, '0');
          const back = new Date(Date.UTC(year, month - 1, day));
          const exists =
            month >= 1 &&
            month <= 12 &&
            day >= 1 &&
            back.getUTCMonth() === month - 1 &&
            back.getUTCDate() === day;
          expect(readFhirDate(`${year}-${two(month)}-${two(day)}`) !== undefined).toBe(exists);
        },
      ),
      { numRuns: 2000, seed: 29 },
    );
  });

  it('without a zone spans its day in every zone that exists, from UTC+14 to UTC-12', () => {
    // Truth: closed form; the day begins first on Kiritimati (+14) and ends last at -12.
    expect(readFhirDate('2026-11-02')).toEqual({
      from: utc('2026-11-02T00:00:00Z') - 14 * HOUR,
      to: utc('2026-11-03T00:00:00Z') - 1 + 12 * HOUR,
    });
  });

  it('of a month or a year spans all of it', () => {
    // Truth: closed form.
    expect(readFhirDate('2024-02')).toEqual({
      from: utc('2024-02-01T00:00:00Z') - 14 * HOUR,
      to: utc('2024-03-01T00:00:00Z') - 1 + 12 * HOUR,
    });
    expect(readFhirDate('2026-12')?.to).toBe(utc('2027-01-01T00:00:00Z') - 1 + 12 * HOUR);
    expect(readFhirDate('2026')).toEqual({
      from: utc('2026-01-01T00:00:00Z') - 14 * HOUR,
      to: utc('2027-01-01T00:00:00Z') - 1 + 12 * HOUR,
    });
  });

  it('with a zone is one instant, whichever zone it is written in', () => {
    // Truth: independent implementation, Date.parse of the same ISO 8601 text.
    for (const text of [
      '2026-11-02T10:30:00Z',
      '2026-11-02T12:30:00+02:00',
      '2026-11-02T05:00:00-05:30',
      '2026-11-03T00:30:00+14:00',
    ]) {
      expect(readFhirDate(text)).toEqual({
        from: utc('2026-11-02T10:30:00Z'),
        to: utc('2026-11-02T10:30:00Z'),
      });
    }
    expect(readFhirDate('2026-11-02T10:30:00.125Z')?.from).toBe(utc('2026-11-02T10:30:00.125Z'));
  });

  it.each([
    '2026-11-02T10:30:00',
    '2026-11-02T10:30Z',
    '2026-11-02T24:00:00Z',
    '2026-11-02T10:60:00Z',
    '2026-11-02T10:30:61Z',
    '2026-11-02 10:30:00Z',
    '2026-1-2',
    '02.11.2026',
    ' 2026-11-02',
    '2026-11-02x',
    '',
    20261102,
    null,
    undefined,
  ])('that is written in another form, %j, is none', (text) => {
    // Truth: published, the regular expressions of date and dateTime in FHIR R4 (a time needs seconds and a zone).
    expect(readFhirDate(text)).toBeUndefined();
  });

  it.each(['2026-11-02T10:30:00+99:99', '2026-11-02T10:30:00+14:30', '2026-11-02T10:30:00-15:00'])(
    'with a zone that does not exist, %s, is none',
    (text) => {
      // Truth: published, FHIR R4 dateTime: zones reach from -14:00 to +14:00, minutes to 59.
      expect(readFhirDate(text)).toBeUndefined();
    },
  );

  it('may state its seconds as finely as it likes', () => {
    // Truth: published, FHIR R4 dateTime: `\.[0-9]+`, without a limit.
    expect(readFhirDate('2026-11-02T10:30:00.1234567890Z')?.from).toBe(utc('2026-11-02T10:30:00.123Z'));
  });

  it('of the first century is not taken for one of the twentieth', () => {
    // Truth: FHIR R4 allows the years 0001 to 9999 and not 0000; Date.UTC adds 1900 to years below 100.
    expect(readFhirDate('0000')).toBeUndefined();
    expect(readFhirDate('0050-03-01')?.from ?? -Infinity).toBeLessThan(utc('1000-01-01T00:00:00Z'));
  });
});

describe('a date for a reader', () => {
  it('is as precise as it was stated', () => {
    // Truth: clinician, the form shown in the clinical decisions ("2 Nov").
    expect(formatDate('2026-11-02')).toBe('2 Nov 2026');
    expect(formatDate('2026-11-02T10:30:00+02:00')).toBe('2 Nov 2026');
    expect(formatDate('2026-11')).toBe('Nov 2026');
    expect(formatDate('2026')).toBe('2026');
  });
});

const DATE = /^(\d{4})(?:-(\d{2})(?:-(\d{2})(T.+)?)?)?$/;
const DAY = 86_400_000;

/**
 * A FHIR date moved by days, as precise as it was; the time of day stays. A month or year moves as its middle does.
 * Undefined when the text is no date.
 */
export function shiftedDate(text: string, days: number): string | undefined {
  const parts = DATE.exec(text);
  if (!parts) return undefined;
  const [, year = '', month, day, time = ''] = parts;
  const from = Date.UTC(Number(year), Number(month ?? '7') - 1, Number(day ?? (month ? '15' : '1')));
  if (Number.isNaN(from)) return undefined;
  const moved = new Date(from + days * DAY).toISOString();
  if (month === undefined) return moved.slice(0, 'yyyy'.length);
  if (day === undefined) return moved.slice(0, 'yyyy-mm'.length);
  return moved.slice(0, 'yyyy-mm-dd'.length) + time;
}

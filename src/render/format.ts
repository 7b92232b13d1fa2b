/** A number for a reader, by its unit: angles without decimals, millimetres with one, ratios with two. */
export function formatQuantity(value: number, unit: string): string {
  switch (unit) {
    case 'deg':
      return `${fixed(value, 0)}°`;
    case 'mm':
      return `${fixed(value, 1)} mm`;
    case 'mm/mm':
      return `${fixed(value, 2)} mm`;
    case '1':
      return fixed(value, 2);
    case '%':
      return `${plain(value)} %`;
    case 'mo':
      return `${plain(value)} months`;
    case 'a':
      // As exact as the dates of a record are good for.
      return withSign(String(Number(fixed(value, 1))), unit);
    case 'mm3':
      return `${plain(value)} mm³`;
    case 'kg/m2':
      return `${plain(value)} kg/m²`;
    case 'ug/L':
      return `${plain(value)} µg/L`;
    default:
      return `${plain(value)} ${unit}`;
  }
}

/** A dimension of an implant is stated in whole millimetres unless it is none. */
export function formatDimension(value: number, unit: string): string {
  return unit === 'mm' && Number.isInteger(value) ? `${value} mm` : formatQuantity(value, unit);
}

/**
 * An angle beside a limit: without decimals, unless rounding would hide on which side of the limit it lies
 * ("58° is above 58°" tells nobody anything).
 */
export function formatBeside(value: number, unit: string, limits: readonly number[]): string {
  const first = BESIDE[unit];
  if (first === undefined) return formatDimension(value, unit);
  for (let decimals = first; decimals <= first + 2; decimals += 1) {
    const shown = Number(fixed(value, decimals));
    if (limits.every((limit) => Math.sign(shown - limit) === Math.sign(value - limit)))
      return withSign(unit === 'a' ? String(shown) : fixed(value, decimals), unit);
  }
  return withSign(String(Number(value.toPrecision(9))), unit);
}

function withSign(number: string, unit: string): string {
  if (unit === 'a') return `${number} ${number === '1' ? 'year' : 'years'}`;
  return unit === 'deg' ? `${number}°` : number;
}

/** Decimals with which a quantity beside a limit begins. */
const BESIDE: Readonly<Record<string, number>> = { deg: 0, '1': 2, a: 1 };

/** Rounds half away from zero in decimal, as a reader would; `toFixed` alone rounds the binary value. */
function fixed(value: number, decimals: number): string {
  if (Number.isInteger(value)) return (value === 0 ? 0 : value).toFixed(decimals);
  const scale = 10 ** decimals;
  const rounded = (Math.sign(value) * Math.round(Number((Math.abs(value) * scale).toPrecision(12)))) / scale;
  return (rounded === 0 ? 0 : rounded).toFixed(decimals);
}

function plain(value: number): string {
  return String(Number(value.toPrecision(6)));
}

import { degrees, millimetres } from '../base/units.js';
import { jumpDistance } from '../biomechanics/stability/jump-distance.js';

const WIDTH = 720;
const HEIGHT = 420;
const LEFT = 64;
const RIGHT = 32;
const TOP = 48;
const BOTTOM = 56;
const FROM = 30;
const TO = 70;
const HIGHEST = 20;
const HEADS = [22, 28, 32, 36] as const;
const COLOURS: Readonly<Record<(typeof HEADS)[number], string>> = {
  22: '#7a5195',
  28: '#2f6f9f',
  32: '#2a8a5f',
  36: '#b5542a',
};

/**
 * The superior jump distance of four heads over cup inclination, as SVG, computed by the same function that the cards
 * use. Two points stand out: a 36 mm head at 60 degrees and a 22 mm head at 40 degrees jump equally far.
 */
export function jumpDistanceFigure(): string {
  const shown = [
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 720 420" width="720" height="420" font-family="sans-serif" font-size="13" role="img" aria-labelledby="t d">',
    '<title id="t">Jump distance over cup inclination for heads of 22, 28, 32 and 36 mm</title>',
    '<desc id="d">A 36 mm head in a cup at 60 degrees has the jump distance of a 22 mm head at 40 degrees, 9.3 mm.</desc>',
    `<rect width="${WIDTH}" height="${HEIGHT}" fill="#ffffff"/>`,
    `<text x="${LEFT}" y="24" font-size="15" fill="#222222">A large head does not rescue a steep cup</text>`,
    ...gridLines(),
    ...HEADS.map(curve),
    `<line x1="${x(40)}" y1="${y(jump(22, 40))}" x2="${x(60)}" y2="${y(jump(36, 60))}" stroke="#222222" stroke-dasharray="5 4"/>`,
    point(22, 40, -8, 22, 'end'),
    point(36, 60, 10, -10, 'start'),
    `<text x="${LEFT + (WIDTH - LEFT - RIGHT) / 2}" y="${HEIGHT - 12}" text-anchor="middle" fill="#222222">cup inclination, radiographic (degrees)</text>`,
    `<text transform="translate(18 ${TOP + (HEIGHT - TOP - BOTTOM) / 2}) rotate(-90)" text-anchor="middle" fill="#222222">superior jump distance (mm)</text>`,
    '</svg>',
  ];
  return `${shown.join('\n')}\n`;
}

function jump(head: number, inclination: number): number {
  return jumpDistance({
    head: millimetres(head),
    radiographicInclination: degrees(inclination),
    centerOffset: millimetres(0),
  });
}

function x(inclination: number): string {
  return (LEFT + ((inclination - FROM) / (TO - FROM)) * (WIDTH - LEFT - RIGHT)).toFixed(1);
}

function y(distance: number): string {
  return (HEIGHT - BOTTOM - (distance / HIGHEST) * (HEIGHT - TOP - BOTTOM)).toFixed(1);
}

function gridLines(): readonly string[] {
  const across = [30, 40, 50, 60, 70].map(
    (at) =>
      `<line x1="${x(at)}" y1="${TOP}" x2="${x(at)}" y2="${HEIGHT - BOTTOM}" stroke="#dddddd"/><text x="${x(at)}" y="${HEIGHT - BOTTOM + 18}" text-anchor="middle" fill="#444444">${at}</text>`,
  );
  const up = [0, 5, 10, 15, 20].map(
    (at) =>
      `<line x1="${LEFT}" y1="${y(at)}" x2="${WIDTH - RIGHT}" y2="${y(at)}" stroke="#dddddd"/><text x="${LEFT - 8}" y="${Number(y(at)) + 4}" text-anchor="end" fill="#444444">${at}</text>`,
  );
  return [...across, ...up];
}

function curve(head: (typeof HEADS)[number]): string {
  const points: string[] = [];
  for (let inclination = FROM; inclination <= TO; inclination += 1)
    points.push(`${x(inclination)},${y(jump(head, inclination))}`);
  // The curves part most at the left, so they are named there.
  const label = `<text x="${Number(x(FROM)) + 5}" y="${(Number(y(jump(head, FROM))) - 4).toFixed(1)}" fill="${COLOURS[head]}">${head} mm</text>`;
  return `<polyline points="${points.join(' ')}" fill="none" stroke="${COLOURS[head]}" stroke-width="2"/>${label}`;
}

function point(head: number, inclination: number, dx: number, dy: number, anchor: string): string {
  const [cx, cy] = [x(inclination), y(jump(head, inclination))];
  const label = `${head} mm at ${inclination}°: ${jump(head, inclination).toFixed(1)} mm`;
  return `<circle cx="${cx}" cy="${cy}" r="5" fill="#222222"/><text x="${Number(cx) + dx}" y="${Number(cy) + dy}" text-anchor="${anchor}" fill="#222222">${label}</text>`;
}

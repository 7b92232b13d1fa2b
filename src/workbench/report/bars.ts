import { markup } from '../../render/html.js';
import type { Html } from '../../render/html.js';

/** A part of a bar. */
export interface BarPart {
  readonly value: number;
  /** A class of the page's style that colors it. */
  readonly look: string;
  readonly name: string;
}

export interface Bar {
  readonly label: string;
  readonly parts: readonly BarPart[];
  /** What stands behind the bar. */
  readonly said: string;
}

export interface BarsParts {
  readonly id: string;
  readonly title: string;
  /** What the picture shows, for who can't see it; the same figures stand in a table beside it. */
  readonly description: string;
  readonly bars: readonly Bar[];
}

const WIDTH = 860;
const LABEL = 330;
const SAID = 150;
const ROW = 26;

/** Bars lying below each other, drawn by hand: no library, no script. */
export function bars({ id, title, description, bars: rows }: BarsParts): Html {
  const sums = rows.map(({ parts }) => parts.reduce((sum, { value }) => sum + value, 0));
  const height = rows.length * ROW + 8;
  const scale = (WIDTH - LABEL - SAID) / Math.max(1, ...sums);
  return markup`<div class="wide" role="region" aria-label="${title}" tabindex="0"><svg viewBox="0 0 ${WIDTH} ${height}" role="img" aria-labelledby="${id}-name ${id}-text">
<title id="${id}-name">${title}</title>
<desc id="${id}-text">${description}</desc>
<line class="axis" x1="${LABEL}" y1="0" x2="${LABEL}" y2="${height}"/>
${rows.map((row, index) => barRow(row, index * ROW + 4, scale))}</svg></div>`;
}

function barRow({ label, parts, said }: Bar, top: number, scale: number): Html {
  let left = LABEL;
  const drawn = parts.map(({ value, look, name }) => {
    const [from, width] = [left, value * scale];
    left += width;
    return markup`<rect class="${look}" x="${from.toFixed(1)}" y="${top}" width="${width.toFixed(1)}" height="${ROW - 8}"><title>${name}: ${value}</title></rect>`;
  });
  return markup`<text x="${LABEL - 8}" y="${top + 14}" text-anchor="end">${cut(label)}</text>${drawn}<text x="${(left + 8).toFixed(1)}" y="${top + 14}">${said}</text>
`;
}

/** As much of a label as its place holds; the table beside has the whole. */
function cut(label: string): string {
  return label.length <= 46 ? label : `${label.slice(0, 45)}…`;
}

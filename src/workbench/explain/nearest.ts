import { compareText } from '../../base/order.js';

/** The names most like a misspelt one, likest first: by edits, or because one holds the other. */
export function nearestNames(wrong: string, names: readonly string[], most = 3): readonly string[] {
  const text = wrong.toLowerCase();
  return names
    .map((name) => ({ name, distance: distanceOf(text, name.toLowerCase()) }))
    .filter(({ name, distance }) => distance <= Math.max(2, Math.floor(name.length / 3)))
    .sort((a, b) => a.distance - b.distance || compareText(a.name, b.name))
    .slice(0, most)
    .map(({ name }) => name);
}

function distanceOf(wrong: string, name: string): number {
  const isPart = wrong.length > 2 && (name.includes(wrong) || wrong.includes(name));
  return isPart ? 1 : edits(wrong, name);
}

/** Letters put in, taken out or changed to get from one text to the other. */
function edits(a: string, b: string): number {
  let row = Array.from({ length: b.length + 1 }, (_none, index) => index);
  for (let i = 1; i <= a.length; i += 1) {
    const next = [i];
    for (let j = 1; j <= b.length; j += 1) {
      const changed = (row[j - 1] ?? 0) + (a[i - 1] === b[j - 1] ? 0 : 1);
      next.push(Math.min(changed, (row[j] ?? 0) + 1, (next[j - 1] ?? 0) + 1));
    }
    row = next;
  }
  return row[b.length] ?? 0;
}

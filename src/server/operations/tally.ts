import { Counter } from 'prom-client';
import type { Registry } from 'prom-client';

/** Counts by one or two labels: a call adds to a hundred of them, so adding is two look-ups and nothing else. */
export interface Tally {
  readonly add: (first: string, second: string) => void;
}

export interface TallyForm {
  readonly name: string;
  readonly help: string;
  readonly labelNames: readonly [string, string];
  readonly register: Registry;
}

/** Whatever is counted beyond this many values of one label goes by this name: no label grows without bound. */
export const OTHER = 'other';
const MOST_VALUES = 1000;

/** A counter that is told to the registry when somebody asks, and not at every addition. */
export function newTally({ name, help, labelNames, register }: TallyForm): Tally {
  const counts = new Map<string, Map<string, number>>();
  const counter = new Counter({
    name,
    help,
    labelNames: [...labelNames],
    registers: [register],
    collect() {
      counter.reset();
      for (const [first, row] of counts)
        for (const [second, count] of row)
          counter.inc({ [labelNames[0]]: first, [labelNames[1]]: second }, count);
    },
  });
  return {
    add: (first, second) => {
      const row = rowOf(counts, first);
      const known = row.has(second) || row.size < MOST_VALUES ? second : OTHER;
      row.set(known, (row.get(known) ?? 0) + 1);
    },
  };
}

function rowOf(counts: Map<string, Map<string, number>>, first: string): Map<string, number> {
  const label = counts.has(first) || counts.size < MOST_VALUES ? first : OTHER;
  const known = counts.get(label);
  if (known) return known;
  const row = new Map<string, number>();
  counts.set(label, row);
  return row;
}

import { percentText } from '../report/burden-figures.js';
import type { NumberCell } from '../report/table.js';

/** A count with its share of a whole; sorts by the share. */
export function shareCell(count: number, of: number): NumberCell {
  return {
    number: of === 0 ? -1 : count / of,
    shown: count === 0 ? '0' : `${count} (${percentText(count, of).replace(' ', '\u00a0')})`,
  };
}

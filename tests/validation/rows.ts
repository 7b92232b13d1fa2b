import type { Reference, Row, Span } from './row.js';
import { readOf, sourceOf, type Cited } from './source.js';

interface Compared {
  readonly what: string;
  readonly unit: string;
  readonly reference: Reference;
  readonly ours: Span;
  /** Decimals ours is shown with; one more than the reference where not said. */
  readonly decimals?: number;
  readonly guessed?: string;
  readonly remark?: string;
}

/** A row whose source is that of a record. */
export function compared(record: Cited, { decimals, ...row }: Compared): Row {
  return {
    ...row,
    decimals: decimals ?? row.reference.decimals + 1,
    source: sourceOf(record),
    read: readOf(record, row.reference.origin),
  };
}

/** A row of what the library says where no published value was found. */
export function oursAlone(row: Pick<Row, 'what' | 'unit' | 'ours' | 'decimals' | 'remark'>): Row {
  return { ...row, source: 'ours', read: 'derived here' };
}

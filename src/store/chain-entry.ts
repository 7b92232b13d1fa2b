import { createHash } from 'node:crypto';

/** What an entry tells: a row that was written, that some were removed and why. */
export type EntryKind = 'decision' | 'feedback' | 'content' | 'difference' | 'erased' | 'erasure' | 'pruning';

/** What an entry is to say of a row, before it has its place in a chain. */
export interface Covered {
  readonly kind: EntryKind;
  /** The row: its id; of a pruning the kind of row. */
  readonly of: string;
  /** SHA-256 of the row; empty where rows were removed. */
  readonly digest: string;
  /** The time by which a row is pruned; of a pruning, rows of an earlier time are gone. */
  readonly moment: string;
}

export interface ChainEntry extends Covered {
  readonly writer: string;
  /** From 1, without a gap. */
  readonly seq: number;
  /** The hash of the entry before; empty at the first. */
  readonly previous: string;
  readonly hash: string;
}

/** The last entry of one writer. */
export interface Head {
  readonly writer: string;
  readonly seq: number;
  readonly hash: string;
}

/** Where a chain and what it covers no longer fit. */
export interface ChainBreak {
  /** The writer and the place in its chain; left out for a row that no entry covers. */
  readonly writer?: string;
  readonly seq?: number;
  readonly kind: EntryKind | 'head';
  /** The row. */
  readonly of: string;
  readonly why: string;
}

/** The entry that follows a head. */
export function entryAfter(head: Head, covered: Covered): ChainEntry {
  const { kind, of, digest, moment } = covered;
  const entry = { writer: head.writer, seq: head.seq + 1, kind, of, digest, moment, previous: head.hash };
  return { ...entry, hash: entryHash(entry) };
}

/** Over a plain list, whose JSON is canonical as it stands. */
export function entryHash(entry: Omit<ChainEntry, 'hash'>): string {
  const { writer, seq, kind, of, digest, moment, previous } = entry;
  return sha256(JSON.stringify([writer, seq, kind, of, digest, moment, previous]));
}

/** SHA-256 of a text, in hex. */
export function sha256(text: string): string {
  return createHash('sha256').update(text, 'utf8').digest('hex');
}

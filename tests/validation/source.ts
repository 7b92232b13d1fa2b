import type { Origin } from './row.js';

/** What the copied records say of where they are from. */
export interface Cited {
  readonly citation: {
    readonly authors?: string | null | undefined;
    readonly journal?: string | null | undefined;
    readonly year?: number | null | undefined;
    readonly doi?: string | null | undefined;
    readonly pmid?: string | null | undefined;
  };
  readonly verified: string;
}

/** Authors, journal, year and DOI as the record states them; what it does not know stays out. */
export function sourceOf({ citation: { authors, journal, year, doi, pmid } }: Cited): string {
  const paper = [journal, year].filter((part) => part != null).join(' ');
  const locator = doi ?? (pmid == null ? null : `PMID ${pmid}`);
  const source = [authors, paper === '' ? null : paper, locator].filter((part) => part != null).join(', ');
  return source === '' ? 'none' : source;
}

/** How far the source was read, and what was not read there but worked out or recalled. */
export function readOf({ verified }: Cited, origin: Origin): string {
  const read = verified.startsWith('from memory') ? 'from memory' : verified;
  if (origin === 'published' || origin === 'same equation') return read;
  if (origin === 'recalled') return 'from memory';
  return read === 'from memory'
    ? 'derived here, formula from memory'
    : `derived here; inputs or definitions: ${read}`;
}

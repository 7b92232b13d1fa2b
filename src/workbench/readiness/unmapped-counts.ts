import type { Advice } from '../../advice/index.js';
import { unmappedIn } from '../../advice/index.js';
import type { UnmappedCoding } from '../../facts/unmapped.js';
import type { Rulebook } from '../../rulebook/types.js';

/** So many different codings are kept apart; a record system with more sends something else than codes. */
const MOST_KINDS = 20_000;

/** Which codings nothing understood, over a sample: a coding counts for a member as often as in the call that had it most. */
export class UnmappedCounts {
  readonly #totals = new Map<string, { readonly coding: UnmappedCoding; count: number }>();
  #leftOut = 0;

  constructor(readonly rulebook: Rulebook) {}

  /** All calls of one member, which may hold the same resources several times. */
  add(advices: readonly Advice[]): void {
    const member = new Map<string, UnmappedCoding>();
    for (const advice of advices) {
      const record = advice.kind === 'answer' ? advice.record : undefined;
      for (const coding of record ? unmappedIn(record, this.rulebook) : []) {
        const key = JSON.stringify([coding.resourceType, coding.element, coding.system, coding.code]);
        if (coding.count > (member.get(key)?.count ?? 0)) member.set(key, coding);
      }
    }
    for (const [key, coding] of member) this.#addCoding(key, coding);
  }

  #addCoding(key: string, coding: UnmappedCoding): void {
    const known = this.#totals.get(key);
    if (known) known.count += coding.count;
    else if (this.#totals.size < MOST_KINDS) this.#totals.set(key, { coding, count: coding.count });
    else this.#leftOut += 1;
  }

  totals(): readonly UnmappedCoding[] {
    return [...this.#totals.values()].map(({ coding, count }) => ({ ...coding, count }));
  }

  /** Codings met after there was no more room for new ones. */
  get leftOut(): number {
    return this.#leftOut;
  }
}

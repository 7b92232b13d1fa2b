import { compareText } from '../../base/order.js';

/** Counts by name. */
export class Tally<Name extends string = string> {
  readonly #counts = new Map<Name, number>();

  add(name: Name, count = 1): void {
    this.#counts.set(name, (this.#counts.get(name) ?? 0) + count);
  }

  of(name: Name): number {
    return this.#counts.get(name) ?? 0;
  }

  /** The most frequent first; of equals, by name. */
  list(): readonly (readonly [name: Name, count: number])[] {
    return [...this.#counts].sort((a, b) => b[1] - a[1] || compareText(a[0], b[0]));
  }

  /** By name, in the order of names. */
  byName(): Readonly<Record<string, number>> {
    return Object.fromEntries([...this.#counts].sort((a, b) => compareText(a[0], b[0])));
  }
}

/** One choice for each factor, by its place in the list of that factor's values. */
export type Row = readonly number[];

/**
 * Rows in which every value of every factor stands beside every value of every other at least once: far fewer than all
 * combinations, and enough to meet whatever two values bring about together. Greedy, so the number of rows is near the
 * least possible and not always it; the first value of a factor is taken where no pair is left to win, and should be
 * the quiet one.
 */
export function coveringRows(sizes: readonly number[], next: () => number): readonly Row[] {
  const left = new OpenPairs(sizes);
  const rows: Row[] = [];
  while (left.count > 0) {
    const row = left.start();
    for (const factor of order(sizes.length, next)) if (row[factor] === undefined) left.choose(row, factor);
    const whole = row.map((value) => value ?? 0);
    left.close(whole);
    rows.push(whole);
  }
  return rows;
}

/** How many pairs of values two different factors have, all together. */
export function pairCount(sizes: readonly number[]): number {
  const sum = sizes.reduce((total, size) => total + size, 0);
  const squares = sizes.reduce((total, size) => total + size * size, 0);
  return (sum * sum - squares) / 2;
}

function order(length: number, next: () => number): readonly number[] {
  return Array.from({ length }, (_, index) => ({ index, key: next() }))
    .sort((a, b) => a.key - b.key)
    .map(({ index }) => index);
}

type Partial = (number | undefined)[];

/** The pairs that no row has yet: a flag for every value beside every other, in both orders. */
class OpenPairs {
  count: number;
  private readonly starts: readonly number[];
  private readonly total: number;
  private readonly isClosed: Uint8Array;
  /** How many pairs each value still has open. */
  private readonly openOf: Int32Array;

  constructor(private readonly sizes: readonly number[]) {
    const starts: number[] = [];
    let total = 0;
    for (const size of sizes) {
      starts.push(total);
      total += size;
    }
    this.starts = starts;
    this.total = total;
    this.isClosed = new Uint8Array(total * total);
    this.openOf = new Int32Array(total);
    for (const [factor, size] of sizes.entries())
      for (let value = 0; value < size; value++) this.openOf[this.place(factor, value)] = total - size;
    this.count = pairCount(sizes);
  }

  /** A row with the value that has most pairs open, beside the first it has not met. */
  start(): Partial {
    const row: Partial = this.sizes.map(() => undefined);
    let most = -1;
    let best = { factor: 0, value: 0 };
    for (const factor of this.sizes.keys())
      for (let value = 0; value < this.size(factor); value++) {
        const open = this.openOf[this.place(factor, value)] ?? 0;
        if (open > most) [most, best] = [open, { factor, value }];
      }
    row[best.factor] = best.value;
    return row;
  }

  /** Gives a factor the value that wins most open pairs with those chosen before. */
  choose(row: Partial, factor: number): void {
    let most = 0;
    let best = 0;
    for (let value = 0; value < this.size(factor); value++) {
      const won = this.won(row, this.place(factor, value));
      if (won > most) [most, best] = [won, value];
    }
    row[factor] = best;
  }

  close(row: Row): void {
    const places = row.map((value, factor) => this.place(factor, value));
    for (const [index, one] of places.entries())
      for (const other of places.slice(index + 1)) {
        if (this.isClosed[one * this.total + other] === 1) continue;
        this.isClosed[one * this.total + other] = 1;
        this.isClosed[other * this.total + one] = 1;
        this.openOf[one] = (this.openOf[one] ?? 0) - 1;
        this.openOf[other] = (this.openOf[other] ?? 0) - 1;
        this.count--;
      }
  }

  private won(row: Partial, place: number): number {
    if ((this.openOf[place] ?? 0) === 0) return 0;
    let won = 0;
    for (const [factor, value] of row.entries())
      if (value !== undefined && this.isClosed[place * this.total + this.place(factor, value)] === 0) won++;
    return won;
  }

  private place(factor: number, value: number): number {
    return (this.starts[factor] ?? 0) + value;
  }

  private size(factor: number): number {
    return this.sizes[factor] ?? 0;
  }
}

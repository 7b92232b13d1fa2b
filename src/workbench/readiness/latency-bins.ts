/** Each bin is this much wider than the one before: a percentile is told within two percent. */
const STEP = Math.log(1.02);
const SMALLEST_MS = 0.001;

/** Durations counted in bins, so that a hundred thousand take no more memory than a hundred. */
export class LatencyBins {
  readonly #bins: number[] = [];
  #count = 0;
  #longest = 0;

  add(ms: number): void {
    const bin = Math.max(0, Math.ceil(Math.log(ms / SMALLEST_MS) / STEP));
    while (this.#bins.length <= bin) this.#bins.push(0);
    this.#bins[bin] = (this.#bins[bin] ?? 0) + 1;
    this.#count += 1;
    this.#longest = Math.max(this.#longest, ms);
  }

  get count(): number {
    return this.#count;
  }

  get longest(): number {
    return this.#longest;
  }

  /** What a share of durations does not exceed; 0 without any. */
  at(share: number): number {
    let seen = 0;
    for (const [bin, count] of this.#bins.entries()) {
      seen += count;
      if (count > 0 && seen >= share * this.#count) return SMALLEST_MS * Math.exp(bin * STEP);
    }
    return 0;
  }
}

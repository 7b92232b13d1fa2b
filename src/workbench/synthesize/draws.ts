/** Shares of what may be drawn; they add up to 1. */
export type Shares<Name extends string = string> = Readonly<Record<Name, number>>;

/**
 * Random draws of one patient: counter-based, so that each answer depends only on seed, patient, name and turn. No draw
 * moves another: patients may be drawn in any order, and a new name leaves every other value as it was.
 */
export class Draws {
  readonly #high: number;
  readonly #low: number;

  constructor(seed: number, patient: number) {
    this.#high = absorbAll(0x243f6a88, [...words(seed), ...words(patient)]);
    this.#low = absorbAll(0x85a308d3, [...words(seed), ...words(patient)]);
  }

  /** A number in (0, 1) of 53 bits. */
  uniform(name: string, turn = 0): number {
    const key = hashText(name);
    const high = absorb(absorb(this.#high, key), turn) >>> 5;
    const low = absorb(absorb(this.#low, key), turn) >>> 6;
    return (high * 2 ** 26 + low + 0.5) / 2 ** 53;
  }

  /** True with the given probability. */
  isChosen(name: string, probability: number, turn = 0): boolean {
    return this.uniform(name, turn) < probability;
  }

  /** A standard normal number, by Box and Muller. */
  normal(name: string, turn = 0): number {
    const radius = Math.sqrt(-2 * Math.log(this.uniform(name, 2 * turn)));
    return radius * Math.cos(2 * Math.PI * this.uniform(name, 2 * turn + 1));
  }

  /** A whole number from `from` to `to`, both included. */
  integer(name: string, from: number, to: number, turn = 0): number {
    return from + Math.floor(this.uniform(name, turn) * (to - from + 1));
  }

  /** One of the names, by their shares; the last one also takes what rounding leaves of 1. */
  choice<Name extends string>(name: string, shares: Shares<Name>): Name {
    const names = Object.keys(shares) as Name[];
    let left = this.uniform(name);
    for (const one of names) {
      left -= shares[one];
      if (left < 0) return one;
    }
    return last(names);
  }

  /** One of a list, each alike. */
  pick<Item>(name: string, items: readonly Item[], turn = 0): Item {
    const item = items[this.integer(name, 0, items.length - 1, turn)];
    if (item === undefined) throw new RangeError(`nothing to pick for ${name}`);
    return item;
  }

  /** How many events of a Poisson law with this mean; small means only. */
  count(name: string, mean: number): number {
    let product = this.uniform(name, 0);
    let events = 0;
    while (product > Math.exp(-mean)) {
      events += 1;
      product *= this.uniform(name, events);
    }
    return events;
  }
}

function last<Item>(items: readonly Item[]): Item {
  const item = items.at(-1);
  if (item === undefined) throw new RangeError('nothing to choose from');
  return item;
}

/** The two 32-bit words of an integer up to 2^53. */
function words(integer: number): readonly [number, number] {
  return [(integer % 2 ** 32) | 0, Math.floor(integer / 2 ** 32) | 0];
}

function absorbAll(hash: number, all: readonly number[]): number {
  return all.reduce(absorb, hash);
}

/** Takes one more 32-bit word into a hash: a bijection of either, so that nothing collides before its word differs. */
function absorb(hash: number, word: number): number {
  return mix((Math.imul(hash, 0x9e3779b1) + word) | 0);
}

/** The finalizer of MurmurHash3 (public domain, A. Appleby): every bit of the answer hangs on every bit of the word. */
function mix(word: number): number {
  const once = Math.imul(word ^ (word >>> 16), 0x85ebca6b);
  const twice = Math.imul(once ^ (once >>> 13), 0xc2b2ae35);
  return twice ^ (twice >>> 16);
}

const TEXT_HASHES = new Map<string, number>();

/** FNV-1a of a name; names are few and met again for every patient. */
function hashText(text: string): number {
  const known = TEXT_HASHES.get(text);
  if (known !== undefined) return known;
  let hash = 0x811c9dc5;
  for (let index = 0; index < text.length; index += 1)
    hash = Math.imul(hash ^ text.charCodeAt(index), 0x01000193);
  TEXT_HASHES.set(text, hash);
  return hash;
}

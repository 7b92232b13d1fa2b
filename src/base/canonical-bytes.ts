import { canonicalNumber, sortedNames } from './canonical-json.js';

/** Longest text that is copied unit by unit; beyond, handing it over as a whole is quicker. */
const SHORT = 64;
const START_BYTES = 16_384;
/** A code unit is at most three bytes of UTF-8; two quotes go around. */
const MOST_BYTES_A_UNIT = 3;
const UTF_8 = new TextEncoder();

const [QUOTE, BACKSLASH, COMMA, COLON] = [0x22, 0x5c, 0x2c, 0x3a];
const [OPEN_LIST, CLOSE_LIST, OPEN_OBJECT, CLOSE_OBJECT] = [0x5b, 0x5d, 0x7b, 0x7d];
const [FIRST_VISIBLE, LAST_ASCII] = [0x20, 0x7e];

/**
 * Writes `canonicalJson` in UTF-8 without making the text: for whole records that are only hashed. Its memory is used
 * again for the next value.
 */
export class CanonicalBytes {
  #bytes = new Uint8Array(START_BYTES);
  #length = 0;

  /** The bytes of a value, good until the next is written; throws as `canonicalJson` does. */
  of(value: unknown): Uint8Array {
    this.#length = 0;
    this.#write(value);
    return this.#bytes.subarray(0, this.#length);
  }

  #write(value: unknown): void {
    switch (typeof value) {
      case 'string':
        this.#writeText(value);
        break;
      case 'number':
        this.#writeAscii(canonicalNumber(value));
        break;
      case 'boolean':
        this.#writeAscii(value ? 'true' : 'false');
        break;
      case 'object':
        if (value === null) this.#writeAscii('null');
        else if (Array.isArray(value)) this.#writeList(value);
        else this.#writeObject(value as Readonly<Record<string, unknown>>);
        break;
      default:
        throw new TypeError(`cannot serialise a ${typeof value}`);
    }
  }

  #writeList(items: readonly unknown[]): void {
    this.#writeSign(OPEN_LIST);
    for (let index = 0; index < items.length; index += 1) {
      if (index > 0) this.#writeSign(COMMA);
      this.#write(items[index] ?? null);
    }
    this.#writeSign(CLOSE_LIST);
  }

  #writeObject(value: Readonly<Record<string, unknown>>): void {
    this.#writeSign(OPEN_OBJECT);
    let isFirst = true;
    for (const name of sortedNames(value)) {
      const member = value[name];
      if (member === undefined) continue;
      if (!isFirst) this.#writeSign(COMMA);
      isFirst = false;
      this.#writeText(name);
      this.#writeSign(COLON);
      this.#write(member);
    }
    this.#writeSign(CLOSE_OBJECT);
  }

  /** Plain ASCII goes in as it is read; anything else is written out by whoever knows how. */
  #writeText(text: string): void {
    if (text.length > SHORT) {
      this.#writeWhole(JSON.stringify(text));
      return;
    }
    const bytes = this.#room(text.length + 2);
    let at = this.#length;
    bytes[at] = QUOTE;
    for (let index = 0; index < text.length; index += 1) {
      const unit = text.charCodeAt(index);
      if (unit < FIRST_VISIBLE || unit > LAST_ASCII || unit === QUOTE || unit === BACKSLASH) {
        this.#writeWhole(JSON.stringify(text));
        return;
      }
      at += 1;
      bytes[at] = unit;
    }
    bytes[at + 1] = QUOTE;
    this.#length = at + 2;
  }

  #writeWhole(text: string): void {
    const bytes = this.#room(text.length * MOST_BYTES_A_UNIT);
    this.#length += UTF_8.encodeInto(text, bytes.subarray(this.#length)).written;
  }

  #writeAscii(text: string): void {
    const bytes = this.#room(text.length);
    for (let index = 0; index < text.length; index += 1) bytes[this.#length + index] = text.charCodeAt(index);
    this.#length += text.length;
  }

  #writeSign(sign: number): void {
    this.#room(1)[this.#length] = sign;
    this.#length += 1;
  }

  /** The memory, with so many more bytes free. */
  #room(more: number): Uint8Array {
    const needed = this.#length + more;
    if (needed > this.#bytes.length) {
      const larger = new Uint8Array(Math.max(needed, this.#bytes.length * 2));
      larger.set(this.#bytes.subarray(0, this.#length));
      this.#bytes = larger;
    }
    return this.#bytes;
  }
}

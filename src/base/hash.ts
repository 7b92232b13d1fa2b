import { sha256 } from '@noble/hashes/sha2.js';
import { bytesToHex } from '@noble/hashes/utils.js';
import { canonicalJson } from './canonical-json.js';

/** SHA-256 of a text in UTF-8, as 64 lower-case hex digits. Synchronous, in Node and in the browser alike. */
export function sha256Hex(text: string): string {
  return bytesToHex(sha256(UTF_8.encode(text)));
}

const UTF_8 = new TextEncoder();

/** `sha256-…` of a value's canonical JSON: the name under which rulebooks, sites and evaluations are known. */
export function contentHash(value: unknown): string {
  return `sha256-${sha256Hex(canonicalJson(value))}`;
}

/**
 * A UUID of version 8 (RFC 9562, section 5.8) from the first 128 bits of the SHA-256 of a value's canonical JSON.
 * The same content always has the same id, so that a retried call repeats its card ids.
 */
export function contentUuid(value: unknown): string {
  return uuidOf(canonicalJson(value));
}

/** Lists of texts and numbers, nested or not: their plain JSON is already canonical, which is quicker. */
export type PlainList = readonly (string | number | boolean | null | PlainList)[];

/** `contentUuid` of a plain list. */
export function listUuid(list: PlainList): string {
  return uuidOf(JSON.stringify(list));
}

function uuidOf(text: string): string {
  const hex = sha256Hex(text);
  const variant = ((Number.parseInt(hex.charAt(16), 16) & 0x3) | 0x8).toString(16);
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-8${hex.slice(13, 16)}-${variant}${hex.slice(17, 20)}-${hex.slice(20, 32)}`;
}

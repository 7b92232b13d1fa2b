import { sha256 } from '@noble/hashes/sha2.js';
import { bytesToHex, utf8ToBytes } from '@noble/hashes/utils.js';
import { canonicalJson } from './canonical-json.js';

/** SHA-256 of a text in UTF-8, as 64 lower-case hex digits. Synchronous, in Node and in the browser alike. */
export function sha256Hex(text: string): string {
  return bytesToHex(sha256(utf8ToBytes(text)));
}

/** `sha256-…` of a value's canonical JSON: the name under which rulebooks, sites and evaluations are known. */
export function contentHash(value: unknown): string {
  return `sha256-${sha256Hex(canonicalJson(value))}`;
}

/**
 * A UUID of version 8 (RFC 9562, section 5.8) from the first 128 bits of the SHA-256 of a value's canonical JSON.
 * The same content always has the same id, so that a retried call repeats its card ids.
 */
export function contentUuid(value: unknown): string {
  const hex = sha256Hex(canonicalJson(value)).slice(0, 32).split('');
  hex[12] = '8';
  hex[16] = ((Number.parseInt(hex[16] ?? '0', 16) & 0x3) | 0x8).toString(16);
  const text = hex.join('');
  return [text.slice(0, 8), text.slice(8, 12), text.slice(12, 16), text.slice(16, 20), text.slice(20)].join(
    '-',
  );
}

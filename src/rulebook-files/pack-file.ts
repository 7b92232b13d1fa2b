import { byText } from '../base/order.js';
import { packHash } from '../rulebook/build.js';
import type { Pack, PackFile } from '../rulebook/pack.js';

/** The form of a pack on disk; a reader that doesn't know the number refuses it. */
const FORM = 1;

/**
 * A pack as one file with the hash of what it holds: the same rules give the same bytes. Members keep the order in which
 * they were written, because a rule's numbers are computed in that order.
 */
export function packText(pack: Pack): string {
  const files = [...pack.files]
    .sort(byText(({ path }) => path))
    .map(({ path, content }) => ({ path, content }));
  return `${JSON.stringify({ kotylePack: FORM, hash: packHash(pack), files })}\n`;
}

/** A pack read back, or what is wrong with the file. */
export type ReadPackText =
  | { readonly ok: true; readonly pack: Pack; readonly hash: string }
  | { readonly ok: false; readonly expected: string; readonly found: string };

/** Reads a packed file and holds it to its own hash: one byte changed and it is refused. */
export function readPackText(text: string): ReadPackText {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    return { ok: false, expected: 'JSON', found: 'something else' };
  }
  if (typeof value !== 'object' || value === null || !('kotylePack' in value))
    return { ok: false, expected: 'a packed rulebook with kotylePack', found: 'something else' };
  if (value.kotylePack !== FORM)
    return { ok: false, expected: `a pack of form ${FORM}`, found: `form ${String(value.kotylePack)}` };
  const files = 'files' in value && Array.isArray(value.files) ? (value.files as readonly unknown[]) : [];
  const kept = files.filter(isPackFile);
  if (kept.length === 0 || kept.length !== files.length)
    return { ok: false, expected: 'files, each with path and content', found: 'other members' };
  const pack = { files: kept };
  const hash = packHash(pack);
  const stated = 'hash' in value ? String(value.hash) : 'none';
  if (stated !== hash) return { ok: false, expected: `the hash it states, ${stated}`, found: hash };
  if (packText(pack) !== text)
    return { ok: false, expected: 'the bytes in which it was packed', found: 'others' };
  return { ok: true, pack, hash };
}

function isPackFile(value: unknown): value is PackFile {
  return (
    typeof value === 'object' &&
    value !== null &&
    'path' in value &&
    typeof value.path === 'string' &&
    'content' in value
  );
}

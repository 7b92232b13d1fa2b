/** No FHIR resource is nested deeper; a text that is was made to exhaust whoever walks it. */
export const DEEPEST_JSON = 100;

const QUOTE = 0x22;
const BACKSLASH = 0x5c;
const OPEN_LIST = 0x5b;
const CLOSE_LIST = 0x5d;
const OPEN_OBJECT = 0x7b;
const CLOSE_OBJECT = 0x7d;

/** Whether a JSON text nests deeper than the limit, told from its bytes before anything is built from it. */
export function isTooDeep(bytes: Uint8Array): boolean {
  let depth = 0;
  for (let index = 0; index < bytes.length; index += 1) {
    const byte = bytes[index];
    if (byte === QUOTE) {
      index = endOfText(bytes, index);
    } else if (byte === OPEN_OBJECT || byte === OPEN_LIST) {
      depth += 1;
      if (depth > DEEPEST_JSON) return true;
    } else if (byte === CLOSE_OBJECT || byte === CLOSE_LIST) {
      depth -= 1;
    }
  }
  return false;
}

/** Where the text that begins with a quote ends; most bytes of a body stand in texts, so they are jumped over. */
function endOfText(bytes: Uint8Array, start: number): number {
  for (let end = bytes.indexOf(QUOTE, start + 1); end >= 0; end = bytes.indexOf(QUOTE, end + 1)) {
    if (!isEscaped(bytes, end)) return end;
  }
  return bytes.length;
}

/** A quote counts as text when an odd number of backslashes stands before it. */
function isEscaped(bytes: Uint8Array, index: number): boolean {
  let before = index - 1;
  while (bytes[before] === BACKSLASH) before -= 1;
  return (index - before) % 2 === 0;
}

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
  let inText = false;
  for (let index = 0; index < bytes.length; index += 1) {
    const byte = bytes[index] ?? 0;
    if (inText) {
      if (byte === BACKSLASH) index += 1;
      else if (byte === QUOTE) inText = false;
    } else if (byte === QUOTE) {
      inText = true;
    } else if (byte === OPEN_LIST || byte === OPEN_OBJECT) {
      depth += 1;
      if (depth > DEEPEST_JSON) return true;
    } else if (byte === CLOSE_LIST || byte === CLOSE_OBJECT) {
      depth -= 1;
    }
  }
  return false;
}

const PLACEHOLDER = /\{([a-z0-9:.,-]+)\}/gi;

/** A message in pieces: plain text, and the names of what is put between. */
export type Piece = { readonly text: string } | { readonly name: string };

/** Messages belong to the rulebook, so they are few and their pieces kept. */
const known = new Map<string, readonly Piece[]>();

/** Splits a message at its placeholders, `{name}` or `{kind:name}`. */
export function piecesOf(message: string): readonly Piece[] {
  const before = known.get(message);
  if (before) return before;
  const pieces = message
    .split(PLACEHOLDER)
    .map((part, index): Piece => (index % 2 === 0 ? { text: part } : { name: part }));
  known.set(message, pieces);
  return pieces;
}

const alternatives = new Map<string, readonly (readonly Piece[])[]>();

/** The alternatives of a message, parted by ` || `, each in pieces. */
export function alternativesOf(message: string): readonly (readonly Piece[])[] {
  const before = alternatives.get(message);
  if (before) return before;
  const parted = message.split(' || ').map(piecesOf);
  alternatives.set(message, parted);
  return parted;
}

const names = new Map<string, readonly string[]>();

/** The names of all placeholders in a message. */
export function placeholdersOf(message: string): readonly string[] {
  const before = names.get(message);
  if (before) return before;
  const named = piecesOf(message).flatMap((piece) => ('name' in piece ? [piece.name] : []));
  names.set(message, named);
  return named;
}

/** Compares two texts by UTF-16 code units: the same order everywhere, unlike a locale's. */
export function compareText(a: string, b: string): number {
  if (a < b) return -1;
  return a > b ? 1 : 0;
}

/** A comparison by a text taken from each item, for `sort`. */
export function byText<Item>(text: (item: Item) => string): (a: Item, b: Item) => number {
  return (a, b) => compareText(text(a), text(b));
}

/** A sorted copy without repeats. */
export function sortedUnique(texts: readonly string[] | ReadonlySet<string>): readonly string[] {
  if (Array.isArray(texts) && texts.length < 2) return texts as readonly string[];
  const sorted = [...texts].sort(compareText);
  return sorted.filter((text, index) => text !== sorted[index - 1]);
}

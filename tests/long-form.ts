/** The long run tries everything; the short one, for every change, a part of it that differs from test to test. */
export const IS_LONG = process.env['KOTYLE_LONG'] !== undefined;

/** How much of something is tried. */
export function atMost(short: number, long: number): number {
  return IS_LONG ? long : short;
}

/** Each nth of a list in the short run, all of it in the long one; beginning at another place for another start. */
export function each<Item>(nth: number, items: readonly Item[], start = 0): readonly Item[] {
  return IS_LONG ? items : items.filter((_item, index) => index % nth === start % nth);
}

/** Rows read by one statement. */
export const ROWS_AT_ONCE = 200;

/** Reads rows page by page, each page after the last row of the one before, so that no more than a page is held. */
export async function* paged<Row>(
  page: (after: Row | undefined) => Promise<readonly Row[]>,
): AsyncGenerator<readonly Row[], void, undefined> {
  let after: Row | undefined;
  for (;;) {
    const rows = await page(after);
    if (rows.length === 0) return;
    yield rows;
    if (rows.length < ROWS_AT_ONCE) return;
    after = rows.at(-1);
  }
}

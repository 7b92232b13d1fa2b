import type { Kysely } from 'kysely';
import { canonicalJson } from '../base/canonical-json.js';
import { byText } from '../base/order.js';
import type { ChainBreak } from './chain-entry.js';
import { cardRows, decisionRow, firingRows, unmappedRows } from './decision-rows.js';
import { decisionPages } from './row-pages.js';
import type { DecisionRecord } from './store.js';
import type { Tables } from './tables.js';

/**
 * What is searched for stands in columns and tables beside the record: changed there, an answer could be credited to
 * another card. The chain covers the record; these rows must be what follows from it.
 */
export async function* partBreaks(
  db: Kysely<Tables>,
): AsyncGenerator<readonly ChainBreak[], void, undefined> {
  for await (const rows of decisionPages(db)) {
    const ids = rows.map(({ id }) => id);
    const parts = {
      cards: await db.selectFrom('cards').selectAll().where('decision', 'in', ids).execute(),
      firings: await db.selectFrom('firings').selectAll().where('decision', 'in', ids).execute(),
      unmapped: await db.selectFrom('unmapped').selectAll().where('decision', 'in', ids).execute(),
    };
    yield rows.flatMap((row): readonly ChainBreak[] => {
      const record = JSON.parse(row.record) as DecisionRecord;
      const own = <Row extends { readonly decision: string }>(all: readonly Row[]): readonly Row[] =>
        all.filter(({ decision }) => decision === row.id);
      const wrong = [
        ...(isSame([row], [{ ...decisionRow(record), record: row.record }]) ? [] : ['columns']),
        ...(isSame(own(parts.cards), cardRows(record)) ? [] : ['cards']),
        ...(isSame(own(parts.firings), firingRows(record)) ? [] : ['firings']),
        ...(isSame(own(parts.unmapped), unmappedRows(record)) ? [] : ['unmapped codings']),
      ];
      return wrong.map((part) => ({
        kind: 'decision',
        of: row.id,
        why: `expected the ${part} that follow from the record, found others`,
      }));
    });
  }
}

/** The same rows, in whatever order. */
function isSame(found: readonly object[], expected: readonly object[]): boolean {
  const named = (rows: readonly object[]): string =>
    rows
      .map((row) => canonicalJson(row))
      .sort(byText((text) => text))
      .join('\n');
  return named(found) === named(expected);
}

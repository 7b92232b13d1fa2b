import type { Kysely, Selectable } from 'kysely';
import { paged, ROWS_AT_ONCE } from './pages.js';
import type { Selection } from './store.js';
import type { Tables } from './tables.js';

/** Kept evaluations by their times, some rows at once. */
export function decisionPages(
  db: Kysely<Tables>,
  selection: Selection = {},
): AsyncGenerator<readonly Selectable<Tables['decisions']>[], void, undefined> {
  return paged(async (after) => {
    let query = db.selectFrom('decisions').selectAll().orderBy('at').orderBy('id').limit(ROWS_AT_ONCE);
    if (selection.from !== undefined) query = query.where('at', '>=', selection.from);
    if (selection.to !== undefined) query = query.where('at', '<', selection.to);
    if (selection.iss !== undefined) query = query.where('iss', '=', selection.iss);
    if (after)
      query = query.where((where) =>
        where.or([where('at', '>', after.at), where('at', '=', after.at).and('id', '>', after.id)]),
      );
    return await query.execute();
  });
}

/** Kept answers by when they came, some rows at once. */
export function feedbackPages(
  db: Kysely<Tables>,
  selection: Selection = {},
): AsyncGenerator<readonly Selectable<Tables['feedback']>[], void, undefined> {
  return paged(async (after) => {
    let query = db
      .selectFrom('feedback')
      .selectAll()
      .orderBy('received_at')
      .orderBy('digest')
      .limit(ROWS_AT_ONCE);
    if (selection.from !== undefined) query = query.where('received_at', '>=', selection.from);
    if (selection.to !== undefined) query = query.where('received_at', '<', selection.to);
    if (selection.iss !== undefined) query = query.where('iss', '=', selection.iss);
    if (after)
      query = query.where((where) =>
        where.or([
          where('received_at', '>', after.received_at),
          where('received_at', '=', after.received_at).and('digest', '>', after.digest),
        ]),
      );
    return await query.execute();
  });
}

/** What candidates would have done otherwise, by time, some rows at once. */
export function differencePages(
  db: Kysely<Tables>,
): AsyncGenerator<readonly Selectable<Tables['differences']>[], void, undefined> {
  return paged(async (after) => {
    let query = db.selectFrom('differences').selectAll().orderBy('at').orderBy('id').limit(ROWS_AT_ONCE);
    if (after)
      query = query.where((where) =>
        where.or([where('at', '>', after.at), where('at', '=', after.at).and('id', '>', after.id)]),
      );
    return await query.execute();
  });
}

import type { Kysely, Selectable } from 'kysely';
import { sha256 } from './chain-entry.js';
import type { Covered, EntryKind } from './chain-entry.js';
import { contentName } from './contents.js';
import { differenceRowDigest } from './difference-rows.js';
import { answerRowDigest } from './feedback-rows.js';
import { paged, ROWS_AT_ONCE } from './pages.js';
import { decisionPages, differencePages, feedbackPages } from './row-pages.js';
import type { Tables } from './tables.js';

/** Kinds of row that a chain covers. */
export type RowKind = Extract<EntryKind, 'decision' | 'feedback' | 'content' | 'difference'>;

export const ROW_KINDS: readonly RowKind[] = ['decision', 'feedback', 'content', 'difference'];

/** A row as it stands now. */
export type RowDigest = Pick<Covered, 'of' | 'digest'>;

/** Every row of a kind with its digest, some at once. */
export async function* rowDigests(
  db: Kysely<Tables>,
  kind: RowKind,
): AsyncGenerator<readonly RowDigest[], void, undefined> {
  switch (kind) {
    case 'decision':
      for await (const rows of decisionPages(db)) yield rows.map(decisionDigest);
      return;
    case 'feedback':
      for await (const rows of feedbackPages(db)) yield rows.map(answerDigest);
      return;
    case 'content':
      for await (const rows of contentPages(db)) yield rows.map(contentDigest);
      return;
    case 'difference':
      for await (const rows of differencePages(db)) yield rows.map(differenceDigest);
      return;
  }
}

/** The rows of a kind that bear some of these names, with their digests. */
export async function digestsOf(
  db: Kysely<Tables>,
  kind: RowKind,
  names: readonly string[],
): Promise<readonly RowDigest[]> {
  switch (kind) {
    case 'decision':
      return (await db.selectFrom('decisions').selectAll().where('id', 'in', names).execute()).map(
        decisionDigest,
      );
    case 'feedback':
      return (await db.selectFrom('feedback').selectAll().where('digest', 'in', names).execute()).map(
        answerDigest,
      );
    case 'content':
      return (
        await db
          .selectFrom('contents')
          .select(['kind', 'of', 'sealed'])
          .where('of', 'in', names.map(withoutKind))
          .execute()
      ).map(contentDigest);
    case 'difference':
      return (await db.selectFrom('differences').selectAll().where('id', 'in', names).execute()).map(
        differenceDigest,
      );
  }
}

function withoutKind(name: string): string {
  return name.slice(name.indexOf(' ') + 1);
}

function decisionDigest({ id, record }: Selectable<Tables['decisions']>): RowDigest {
  return { of: id, digest: sha256(record) };
}

function answerDigest(row: Selectable<Tables['feedback']>): RowDigest {
  return { of: row.digest, digest: answerRowDigest(row) };
}

function differenceDigest(row: Selectable<Tables['differences']>): RowDigest {
  return { of: row.id, digest: differenceRowDigest(row) };
}

type SealedRow = Pick<Selectable<Tables['contents']>, 'kind' | 'of' | 'sealed'>;

function contentDigest({ kind, of, sealed }: SealedRow): RowDigest {
  return { of: contentName(kind, of), digest: sha256(sealed) };
}

function contentPages(db: Kysely<Tables>): AsyncGenerator<readonly SealedRow[], void, undefined> {
  return paged(async (after) => {
    let query = db
      .selectFrom('contents')
      .select(['kind', 'of', 'sealed'])
      .orderBy('of')
      .orderBy('kind')
      .limit(ROWS_AT_ONCE);
    if (after)
      query = query.where((where) =>
        where.or([where('of', '>', after.of), where('of', '=', after.of).and('kind', '>', after.kind)]),
      );
    return await query.execute();
  });
}

import type { Kysely, Selectable } from 'kysely';
import { contentHash } from '../base/hash.js';
import { sha256 } from './chain-entry.js';
import type { Covered } from './chain-entry.js';
import type { Difference } from './difference.js';
import { differencePages } from './row-pages.js';
import type { Tables } from './tables.js';

type Row = Selectable<Tables['differences']>;

export async function keepDifference(
  db: Kysely<Tables>,
  difference: Difference,
): Promise<readonly Covered[]> {
  const { decision, at, candidateHash, kind, hip, construct, rule, was, would } = difference;
  const row: Row = {
    id: contentHash(difference),
    decision,
    at,
    candidate_hash: candidateHash,
    kind,
    hip: hip ?? null,
    construct: construct ?? null,
    rule: rule ?? null,
    was: was ?? null,
    would: would ?? null,
  };
  const { numInsertedOrUpdatedRows } = await db
    .insertInto('differences')
    .values(row)
    .onConflict((conflict) => conflict.column('id').doNothing())
    .executeTakeFirst();
  if (numInsertedOrUpdatedRows === 0n) return [];
  return [{ kind: 'difference', of: row.id, digest: differenceRowDigest(row), moment: at }];
}

/** What the chain holds a difference to. */
export function differenceRowDigest(row: Row): string {
  const { id, decision, at, candidate_hash: hash, kind, hip, construct, rule, was, would } = row;
  return sha256(JSON.stringify([id, decision, at, hash, kind, hip, construct, rule, was, would]));
}

export async function* readDifferences(db: Kysely<Tables>): AsyncGenerator<Difference, void, undefined> {
  for await (const rows of differencePages(db)) yield* rows.map(readDifference);
}

function readDifference(row: Row): Difference {
  const { decision, at, candidate_hash: candidateHash, kind, hip, construct, rule, was, would } = row;
  return {
    decision,
    at,
    candidateHash,
    kind: kind as Difference['kind'],
    ...(hip !== null && { hip }),
    ...(construct !== null && { construct }),
    ...(rule !== null && { rule }),
    ...(was !== null && { was }),
    ...(would !== null && { would }),
  };
}

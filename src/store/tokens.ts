import type { Kysely } from 'kysely';
import { sha256 } from './chain-entry.js';
import type { Tables } from './tables.js';

/** One use of a client's token. */
export interface TokenUse {
  readonly iss: string;
  readonly jti: string;
  readonly untilMs: number;
}

/** Whether the token is used for the first time. Known by digest, so that a long or odd id does no harm. */
export async function rememberUse(db: Kysely<Tables>, { iss, jti, untilMs }: TokenUse): Promise<boolean> {
  const { numInsertedOrUpdatedRows } = await db
    .insertInto('tokens')
    .values({ digest: sha256(JSON.stringify([iss, jti])), until: untilMs })
    .onConflict((conflict) => conflict.column('digest').doNothing())
    .executeTakeFirst();
  return numInsertedOrUpdatedRows !== 0n;
}

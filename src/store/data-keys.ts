import { randomBytes, randomUUID } from 'node:crypto';
import type { KeyObject } from 'node:crypto';
import type { Kysely } from 'kysely';
import { derivedKey, seal, unseal } from './sealing.js';
import type { Tables } from './tables.js';

/** The key of one patient's contents, or of the comment on a card of which no patient is known. */
export interface DataKey {
  readonly id: string;
  readonly key: Buffer;
}

/** Hands out keys of patients; in the database they stand wrapped under a key that is not in it. */
export interface DataKeys {
  /** The key of a patient, made where there is none; without a patient a key that nothing else is sealed under. */
  readonly forPatient: (transaction: Kysely<Tables>, patient: string | undefined) => Promise<DataKey>;
  /** A key as it was kept; undefined when it was wrapped under another content key. */
  readonly unwrap: (row: WrappedKey) => Buffer | undefined;
}

export type WrappedKey = Tables['data_keys'];

const KEY_BYTES = 32;

export function newDataKeys(contentKey: KeyObject): DataKeys {
  const wrapping = derivedKey(contentKey, 'kotyle data keys');
  // Whoever changes the content key begins anew with every patient.
  const under = derivedKey(contentKey, 'kotyle name of the content key').toString('hex', 0, 8);
  const unwrap = (row: WrappedKey): Buffer | undefined =>
    unseal(wrapping, Buffer.from(row.wrapped, 'base64url'), boundTo(row.id, row.patient));
  const make = async (db: Kysely<Tables>, patient: string | null): Promise<DataKey> => {
    const [id, key] = [randomUUID(), randomBytes(KEY_BYTES)];
    const wrapped = seal(wrapping, key, boundTo(id, patient)).toString('base64url');
    await db
      .insertInto('data_keys')
      .values({ id, patient, under, wrapped })
      // Another process may make the patient's key at the same moment.
      .onConflict((conflict) => conflict.columns(['patient', 'under']).doNothing())
      .execute();
    return { id, key };
  };
  const kept = (db: Kysely<Tables>, patient: string): Promise<WrappedKey | undefined> =>
    db
      .selectFrom('data_keys')
      .selectAll()
      .where('patient', '=', patient)
      .where('under', '=', under)
      .executeTakeFirst();
  return {
    forPatient: async (db, patient) => {
      if (patient === undefined) return await make(db, null);
      let row = await kept(db, patient);
      if (!row) {
        await make(db, patient);
        row = await kept(db, patient);
      }
      const key = row && unwrap(row);
      if (!row || !key) throw new Error('expected the data key of a patient, found one that does not open');
      return { id: row.id, key };
    },
    unwrap,
  };
}

/** A wrapped key opens only in its own row. */
function boundTo(id: string, patient: string | null): string {
  return JSON.stringify([id, patient]);
}

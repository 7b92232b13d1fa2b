import type { KeyObject } from 'node:crypto';
import type { Kysely } from 'kysely';
import { sha256 } from './chain-entry.js';
import type { Covered } from './chain-entry.js';
import { newDataKeys } from './data-keys.js';
import { seal, unseal } from './sealing.js';
import type { Tables } from './tables.js';

type Kind = Tables['contents']['kind'];

/** Something to seal. */
export interface Content {
  readonly kind: Kind;
  /** The evaluation, or the digest of the answer. */
  readonly of: string;
  /** The pseudonym; left out where no patient is known. */
  readonly patient?: string | undefined;
  readonly bytes: Buffer;
}

/** What is kept sealed, each patient's under a key of their own, and for a limited time only. */
export interface Contents {
  /** Seals something that is kept from an instant on; nothing where no contents are kept. */
  readonly put: (transaction: Kysely<Tables>, content: Content, from: string) => Promise<readonly Covered[]>;
  /** The bytes again; undefined when there are none, or none that can be opened. */
  readonly open: (db: Kysely<Tables>, kind: Kind, of: string) => Promise<Buffer | undefined>;
}

const HOUR_MS = 3_600_000;

export function newContents(contentKey: KeyObject, keepHours: number): Contents {
  const keys = newDataKeys(contentKey);
  return {
    put: async (transaction, { kind, of, patient, bytes }, from) => {
      if (keepHours === 0) return [];
      const { id, key } = await keys.forPatient(transaction, patient);
      const until = new Date(Date.parse(from) + keepHours * HOUR_MS).toISOString();
      const sealed = seal(key, bytes, boundTo(kind, of)).toString('base64');
      await transaction.insertInto('contents').values({ kind, of, key: id, until, sealed }).execute();
      return [{ kind: 'content', of: contentName(kind, of), digest: sha256(sealed), moment: until }];
    },
    open: async (db, kind, of) => {
      const row = await db
        .selectFrom('contents')
        .innerJoin('data_keys', 'data_keys.id', 'contents.key')
        .select([
          'contents.sealed',
          'data_keys.id',
          'data_keys.patient',
          'data_keys.under',
          'data_keys.wrapped',
        ])
        .where('contents.kind', '=', kind)
        .where('contents.of', '=', of)
        .executeTakeFirst();
      const key = row && keys.unwrap(row);
      return key && unseal(key, Buffer.from(row.sealed, 'base64'), boundTo(kind, of));
    },
  };
}

/** How the chain names a content. */
export function contentName(kind: string, of: string): string {
  return `${kind} ${of}`;
}

/** Contents of one patient cannot change places. */
function boundTo(kind: Kind, of: string): string {
  return JSON.stringify([kind, of]);
}

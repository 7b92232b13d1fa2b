import type { Kysely, Selectable } from 'kysely';
import { sha256 } from './chain-entry.js';
import type { Covered } from './chain-entry.js';
import { answerRowDigest } from './feedback-rows.js';
import { newLedger } from './ledger.js';
import { decisionPages, feedbackPages } from './row-pages.js';
import type { Tables } from './tables.js';

/** The second step: chains over everything kept, sealed contents, remembered tokens, differences of a candidate. */
export async function addChainAndContents(db: Kysely<Tables>): Promise<void> {
  await createChain(db);
  await createContents(db);
  await createTokens(db);
  await createDifferences(db);
  await db.schema.createIndex('decisions_at').on('decisions').columns(['at', 'id']).execute();
  await db.schema
    .createIndex('feedback_received')
    .on('feedback')
    .columns(['received_at', 'digest'])
    .execute();
  await adoptRows(db);
}

async function createChain(db: Kysely<Tables>): Promise<void> {
  await db.schema
    .createTable('chain')
    .addColumn('writer', 'text', (column) => column.notNull())
    .addColumn('seq', 'bigint', (column) => column.notNull())
    .addColumn('kind', 'text', (column) => column.notNull())
    .addColumn('of', 'text', (column) => column.notNull())
    .addColumn('digest', 'text', (column) => column.notNull())
    .addColumn('moment', 'text', (column) => column.notNull())
    .addColumn('previous', 'text', (column) => column.notNull())
    .addColumn('hash', 'text', (column) => column.notNull())
    .addPrimaryKeyConstraint('chain_key', ['writer', 'seq'])
    .execute();
  await db.schema.createIndex('chain_of').on('chain').columns(['of', 'kind']).execute();
}

async function createContents(db: Kysely<Tables>): Promise<void> {
  await db.schema
    .createTable('data_keys')
    .addColumn('id', 'text', (column) => column.primaryKey().notNull())
    .addColumn('patient', 'text')
    .addColumn('under', 'text', (column) => column.notNull())
    .addColumn('wrapped', 'text', (column) => column.notNull())
    .addUniqueConstraint('data_keys_patient', ['patient', 'under'])
    .execute();
  await db.schema
    .createTable('contents')
    .addColumn('kind', 'text', (column) => column.notNull())
    .addColumn('of', 'text', (column) => column.notNull())
    // A key that was destroyed meanwhile takes no more contents.
    .addColumn('key', 'text', (column) => column.notNull().references('data_keys.id'))
    .addColumn('until', 'text', (column) => column.notNull())
    .addColumn('sealed', 'text', (column) => column.notNull())
    .addPrimaryKeyConstraint('contents_key', ['of', 'kind'])
    .execute();
  await db.schema.createIndex('contents_until').on('contents').column('until').execute();
  await db.schema.createIndex('contents_data_key').on('contents').column('key').execute();
}

async function createTokens(db: Kysely<Tables>): Promise<void> {
  await db.schema
    .createTable('tokens')
    .addColumn('digest', 'text', (column) => column.primaryKey().notNull())
    .addColumn('until', 'bigint', (column) => column.notNull())
    .execute();
  await db.schema.createIndex('tokens_until').on('tokens').column('until').execute();
}

async function createDifferences(db: Kysely<Tables>): Promise<void> {
  await db.schema
    .createTable('differences')
    .addColumn('id', 'text', (column) => column.primaryKey().notNull())
    .addColumn('decision', 'text', (column) => column.notNull())
    .addColumn('at', 'text', (column) => column.notNull())
    .addColumn('candidate_hash', 'text', (column) => column.notNull())
    .addColumn('kind', 'text', (column) => column.notNull())
    .addColumn('hip', 'text')
    .addColumn('construct', 'text')
    .addColumn('rule', 'text')
    .addColumn('was', 'text')
    .addColumn('would', 'text')
    .execute();
  await db.schema.createIndex('differences_at').on('differences').columns(['at', 'id']).execute();
}

/** The name under which what was kept before there was a chain got its place in one. */
const ADOPTER = 'before the chain';

async function adoptRows(db: Kysely<Tables>): Promise<void> {
  const ledger = newLedger(ADOPTER);
  const adopt = async (covered: readonly Covered[]): Promise<void> => {
    await ledger.append(db, covered);
    ledger.settle('committed');
  };
  for await (const rows of decisionPages(db)) {
    await adopt(
      rows.map(({ id, at, record }) => ({ kind: 'decision', of: id, digest: sha256(record), moment: at })),
    );
  }
  for await (const rows of feedbackPages(db)) await adopt(rows.map(answerEntry));
}

function answerEntry(row: Selectable<Tables['feedback']>): Covered {
  return { kind: 'feedback', of: row.digest, digest: answerRowDigest(row), moment: row.received_at };
}

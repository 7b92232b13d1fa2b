import { sql } from 'kysely';
import type { Kysely } from 'kysely';
import type { Tables } from './tables.js';

/** The first step: evaluations, and the answers clinicians gave to their cards. */
export async function createDecisionsAndFeedback(db: Kysely<Tables>): Promise<void> {
  await createDecisions(db);
  await createDecisionParts(db);
  await createFeedback(db);
}

async function createDecisions(db: Kysely<Tables>): Promise<void> {
  await db.schema
    .createTable('decisions')
    .addColumn('id', 'text', (column) => column.primaryKey().notNull())
    .addColumn('key', 'text', (column) => column.notNull())
    .addColumn('at', 'text', (column) => column.notNull())
    .addColumn('iss', 'text', (column) => column.notNull())
    .addColumn('service', 'text', (column) => column.notNull())
    .addColumn('patient', 'text', (column) => column.notNull())
    .addColumn('record', 'text', (column) => column.notNull())
    .execute();
  await db.schema.createIndex('decisions_patient').on('decisions').column('patient').execute();
}

async function createDecisionParts(db: Kysely<Tables>): Promise<void> {
  await db.schema
    .createTable('cards')
    .addColumn('decision', 'text', (column) => column.notNull().references('decisions.id'))
    .addColumn('uuid', 'text', (column) => column.notNull())
    .addColumn('rule', 'text', (column) => column.notNull())
    .addColumn('acknowledgement', 'text')
    .addPrimaryKeyConstraint('cards_key', ['decision', 'uuid'])
    .execute();
  await db.schema.createIndex('cards_uuid').on('cards').column('uuid').execute();
  await db.schema
    .createTable('firings')
    .addColumn('decision', 'text', (column) => column.notNull().references('decisions.id'))
    .addColumn('rule', 'text', (column) => column.notNull())
    .addColumn('hip', 'text', (column) => column.notNull())
    .addColumn('construct', 'text', (column) => column.notNull())
    .addColumn('shown', 'integer', (column) => column.notNull().check(sql`shown in (0, 1)`))
    .addPrimaryKeyConstraint('firings_key', ['decision', 'rule', 'hip', 'construct'])
    .execute();
  await db.schema
    .createTable('unmapped')
    .addColumn('decision', 'text', (column) => column.notNull().references('decisions.id'))
    .addColumn('resource_type', 'text', (column) => column.notNull())
    .addColumn('element', 'text', (column) => column.notNull())
    .addColumn('system', 'text')
    .addColumn('code', 'text', (column) => column.notNull())
    .addColumn('count', 'integer', (column) => column.notNull())
    .execute();
  await db.schema.createIndex('unmapped_decision').on('unmapped').column('decision').execute();
}

/** Feedback names a card that may be older than what is kept, so it does not refer to the cards kept. */
async function createFeedback(db: Kysely<Tables>): Promise<void> {
  await db.schema
    .createTable('feedback')
    .addColumn('digest', 'text', (column) => column.primaryKey().notNull())
    .addColumn('card', 'text', (column) => column.notNull())
    .addColumn('iss', 'text', (column) => column.notNull())
    .addColumn('service', 'text', (column) => column.notNull())
    .addColumn('outcome', 'text', (column) =>
      column.notNull().check(sql`outcome in ('accepted', 'overridden')`),
    )
    .addColumn('at', 'text', (column) => column.notNull())
    .addColumn('accepted_suggestions', 'text', (column) => column.notNull())
    .addColumn('reason_system', 'text')
    .addColumn('reason_code', 'text')
    .addColumn('comment', 'text')
    .addColumn('received_at', 'text', (column) => column.notNull())
    .execute();
  await db.schema.createIndex('feedback_card').on('feedback').column('card').execute();
}

import { createCipheriv, createSecretKey, hkdfSync } from 'node:crypto';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach } from 'vitest';
import { canonicalJson } from '../../src/base/canonical-json.js';
import type { StoreOptions } from '../../src/store/sql-store.js';
import type { DecisionRecord, FeedbackItem, KeptCard, KeptOutcome } from '../../src/store/store.js';

/** A key that is no secret. */
export const TEST_KEY = createSecretKey(Buffer.alloc(32, 7));

/** A store as the service opens it, under a chain of its own. */
export const TEST_OPTIONS: StoreOptions = {
  contentKey: TEST_KEY,
  writer: 'writer of the tests',
  keepContentHours: 12,
  keepRecordDays: 0,
};

export const SERVICE = 'hip-stability-order';
export const STEEP = 'cup-inclination-above-classical';

/** A UUID that ends with a number. */
export function uuid(number: number): string {
  return `9f1c2a52-3f0e-8b8e-9a55-${String(number).padStart(12, '0')}`;
}

/** A record with every member, of a call that only its hook instance tells from others. */
export function decision(id: number, change: Partial<DecisionRecord> = {}): DecisionRecord {
  const call = {
    iss: '-',
    service: SERVICE,
    hook: 'order-sign',
    hookInstance: uuid(1_000_000 + id),
    ...change,
  };
  const { iss, service, hook, hookInstance } = call;
  return {
    id: uuid(id),
    key: canonicalJson([iss, service, hook, hookInstance]),
    at: '2026-11-24T10:00:00.000Z',
    patient: 'patient-pseudonym',
    user: 'user-pseudonym',
    engine: '0.1.0',
    rulebook: { version: '2026.11.0', hash: 'sha256-rulebook' },
    site: { id: 'north-campus', version: '2026.11.1', hash: 'sha256-site' },
    recognised: 'yes',
    outcomes: [outcome(), outcome({ rule: 'hip-side-conflict', outcome: 'does-not-fire', shown: false })],
    cards: [card(id)],
    sets: [
      { key: 'measures', status: 'complete', count: 5 },
      { key: 'devices', status: 'failed', count: 0, why: 'an error' },
    ],
    salt: 'salt',
    inputs: [
      { digest: 'd1', type: 'Observation', versionId: '2', lastUpdated: '2026-11-01T08:00:00Z', used: true },
      { digest: 'd2', type: 'Observation', used: false, why: 'entered in error' },
    ],
    unmapped: [],
    leniencies: ['patientId sent as a reference'],
    ...call,
    ...change,
  };
}

export function outcome(change: Partial<KeptOutcome> = {}): KeptOutcome {
  return {
    hip: 'left',
    construct: 'planned',
    rule: STEEP,
    ruleVersion: '1.0.0',
    outcome: 'fires',
    shown: true,
    ...change,
  };
}

export function card(number: number, change: Partial<KeptCard> = {}): KeptCard {
  return {
    uuid: uuid(number),
    rule: STEEP,
    hip: 'left',
    construct: 'planned',
    indicator: 'info',
    acknowledgement: `sha256-facts-${number}`,
    ...change,
  };
}

export function answer(number: number, change: Partial<FeedbackItem> = {}): FeedbackItem {
  return {
    card: uuid(number),
    outcome: 'overridden',
    at: '2026-11-24T10:05:00.000Z',
    acceptedSuggestions: [],
    iss: '-',
    service: SERVICE,
    receivedAt: '2026-11-24T10:05:01.000Z',
    ...change,
  };
}

/** A comment as the first version sealed it, under HKDF without salt; written down from that version. */
export function firstForm(text: string, card: string): string {
  const key = Buffer.from(hkdfSync('sha256', TEST_KEY, Buffer.alloc(0), 'kotyle comment seal', 32));
  const nonce = Buffer.alloc(12, 1);
  const cipher = createCipheriv('aes-256-gcm', key, nonce).setAAD(Buffer.from(card));
  const sealed = Buffer.concat([nonce, cipher.update(text, 'utf8'), cipher.final(), cipher.getAuthTag()]);
  return `v1.${sealed.toString('base64url')}`;
}

/** A copy without one of its members. */
export function without<Of extends object, Member extends keyof Of>(
  of: Of,
  member: Member,
): Omit<Of, Member> {
  const copy: Partial<Of> = { ...of };
  Reflect.deleteProperty(copy, member);
  return copy as Omit<Of, Member>;
}

/** Everything that comes. */
export async function collected<Item>(items: AsyncIterable<Item>): Promise<readonly Item[]> {
  const all: Item[] = [];
  for await (const item of items) all.push(item);
  return all;
}

/** A place for database files, removed after each test. */
export function temporaryFolder(): () => string {
  const folders: string[] = [];
  afterEach(() => {
    for (const folder of folders.splice(0)) rmSync(folder, { recursive: true });
  });
  return () => {
    const folder = mkdtempSync(join(tmpdir(), 'kotyle-store-'));
    folders.push(folder);
    return folder;
  };
}

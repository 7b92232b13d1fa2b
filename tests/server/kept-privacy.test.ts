import { readFileSync } from 'node:fs';
import { pino } from 'pino';
import { expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { openStore } from '../../src/store/open-store.js';
import { service, testPatients } from '../advice/patients.js';
import { each } from '../long-form.js';
import { describeDatabases, TABLES } from '../store/databases.js';
import { MARKER, withMarkedIds, withMarkedTexts } from './marked-calls.js';
import { pathOfHook } from './record-calls.js';
import { callFor, cardsOf, NOW, post, TEST_KEY, testApp } from './test-service.js';
import type { HookCall, WireCard } from './test-service.js';

const HOOKS = ['appointment-book', 'order-select', 'order-sign', 'patient-view'] as const;
const VALUE_MARK = 0.0771133;

function instance(number: number): string {
  return `3f2b8f0e-6a3c-4d63-9c1e-5b8a7d2f${String(number).padStart(4, '0')}`;
}

/** The same call with values nobody would write by chance. */
function withMarkedValues(call: HookCall): HookCall {
  const change = (value: unknown): unknown => {
    if (Array.isArray(value)) return value.map(change);
    if (typeof value !== 'object' || value === null) return value;
    return Object.fromEntries(
      Object.entries(value).map(([name, member]) => [
        name,
        name === 'value' && typeof member === 'number' ? member + VALUE_MARK : change(member),
      ]),
    );
  };
  return {
    ...call,
    context: change(call.context) as JsonObject,
    prefetch: change(call.prefetch) as JsonObject,
  };
}

const DATES =
  /^(?:birthDate|effectiveDateTime|onsetDateTime|recordedDate|authoredOn|performedDateTime|authored)$/;

function datesIn(value: unknown): readonly string[] {
  if (Array.isArray(value)) return value.flatMap(datesIn);
  if (typeof value !== 'object' || value === null) return [];
  return Object.entries(value).flatMap(([name, member]) =>
    typeof member === 'string' && DATES.test(name) ? [member] : datesIn(member),
  );
}

/** What a clinician wrote to each card, with a name and a value in it. */
function answersTo(cards: readonly WireCard[]): JsonObject {
  return {
    feedback: cards.map(({ uuid, summary }) => ({
      card: uuid,
      outcome: 'overridden',
      outcomeTimestamp: NOW,
      overrideReason: {
        reason: { code: `${MARKER} ${MARKER}`, system: 'https://ehr.example/reasons' },
        userComment: `${MARKER}: ${summary}`,
      },
    })),
  };
}

// Integration decisions section 5 (pseudonyms, digests, contents and comments sealed); style, errors: no patient data
// in logs.
describeDatabases('what is left of all test patients', ({ kind, empty, rows }) => {
  it('holds no id, name, text, date or value of theirs outside what is sealed, nor do all logs of it', async () => {
    const path = await empty();
    const lines: string[] = [];
    const log = pino({ level: 'trace' }, { write: (text: string) => lines.push(text) });
    const store = await openStore({ path, contentKey: TEST_KEY });
    const app = testApp({ store, log, audit: 'required' });
    const dates = new Set<string>();
    let [spoken, calls] = [0, 0];
    for (const { bundle, expected } of each(2, testPatients(), kind === 'SQLite' ? 0 : 1)) {
      for (const hook of HOOKS.filter((each) => expected.cards[each])) {
        const plain = callFor(bundle, hook);
        for (const date of datesIn(plain)) dates.add(date);
        for (const call of [withMarkedIds(plain), withMarkedTexts(withMarkedIds(withMarkedValues(plain)))]) {
          calls += 1;
          const body = { ...call, hookInstance: instance(calls) };
          const cards = cardsOf(await post(app, pathOfHook(hook), body));
          spoken += cards.length;
          if (cards.length === 0) continue;
          const feedback = `/cds-services/${service(hook).id}/feedback`;
          expect((await post(app, feedback, answersTo(cards))).status).toBe(200);
        }
      }
    }
    expect(spoken).toBeGreaterThan(50);
    const tables = await Promise.all(TABLES.map((table) => rows(path, `select * from ${table}`)));
    const kept = (name: (typeof TABLES)[number]): number => tables[TABLES.indexOf(name)]?.length ?? 0;
    expect(kept('decisions')).toBe(calls);
    expect(kept('contents')).toBeGreaterThan(spoken);
    // While it is in use, a SQLite file with its write-ahead log, and after it was closed.
    const texts = [JSON.stringify(tables), lines.join('')];
    if (kind === 'SQLite') texts.push(bytesOf(path));
    await store.close();
    if (kind === 'SQLite') texts.push(bytesOf(path));
    for (const text of texts) {
      expect(text).toContain('neurological-disease');
      expect(text).not.toContain(MARKER);
      expect(text).not.toContain(String(VALUE_MARK).slice(2));
      expect([...dates].filter((date) => text.includes(date))).toEqual([]);
    }
    expect(dates.size).toBeGreaterThan(10);
  }, 180_000);
});

function bytesOf(path: string): string {
  return [path, `${path}-wal`].map(readIfThere).join('');
}

function readIfThere(file: string): string {
  try {
    return readFileSync(file, 'latin1');
  } catch {
    return '';
  }
}

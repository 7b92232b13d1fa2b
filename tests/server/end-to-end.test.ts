import type { Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { mkdtempSync, readFileSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { openStore } from '../../src/store/open-store.js';
import type { DecisionRecord, Store } from '../../src/store/store.js';
import { testPatients } from '../advice/patients.js';
import { kotyle } from '../cli/kotyle-io.js';
import type { Called } from '../cli/kotyle-io.js';
import { startFhirServer } from '../fhir-server/fhir-server.js';
import type { FhirServer } from '../fhir-server/fhir-server.js';
import { fhirIssues } from '../oracles/fhir-validity.js';
import { describeDatabases } from '../store/databases.js';
import { accessTo, entriesOf } from './record-calls.js';
import { BOOKING_PATH, callFor, NOW, ORDER_PATH, rulesOf, TEST_KEY, testApp } from './test-service.js';
import type { HookCall, WireCard } from './test-service.js';

const TOKEN = 'Zqxtoken';
const KEY = TEST_KEY.export().toString('base64');
const patient = [...testPatients()].find(({ name }) => name === 'demo-parkinson-steep-cup');
if (!patient) throw new Error('expected the patient of the demo');
const { bundle, expected } = patient;

/** A call that brings only what it must: everything else is read from the record system. */
function bare(hook: string, fhirServer: string, hookInstance: string): HookCall {
  const call = callFor(bundle, hook);
  return { ...call, hookInstance, prefetch: {}, ...accessTo(fhirServer, { token: TOKEN }) };
}

// Integration decisions sections 2 and 5; rows G7, B1 to B9.
describeDatabases('a patient from booking to oblivion', ({ empty }) => {
  let path = '';
  let [store, server, fhir, folder]: [Store?, Server?, FhirServer?, string?] = [];
  let url = '';
  beforeEach(async () => {
    path = await empty();
    folder = mkdtempSync(join(tmpdir(), 'kotyle-end-'));
    const resources = entriesOf(bundle).filter(({ id }) => id !== undefined);
    fhir = await startFhirServer(resources, { token: TOKEN });
    store = await openStore({ path, contentKey: TEST_KEY });
    // Each time it is asked, the clock is a second on.
    let seconds = 0;
    const now = (): Date => new Date(Date.parse(NOW) + 1000 * seconds++);
    const settings = { store, now, fhirServers: [fhir.base], fhirBudgetMs: 10_000 };
    const app = testApp({ ...settings, audit: 'required' });
    server = await new Promise<Server>((resolve) => {
      const listening = app.listen(0, '127.0.0.1', () => resolve(listening));
    });
    url = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
    vi.stubEnv('KOTYLE_STORE', path);
    vi.stubEnv('KOTYLE_CONTENT_KEY', KEY);
    vi.stubEnv('KOTYLE_PSEUDONYM_KEY', KEY);
  });
  afterEach(async () => {
    vi.unstubAllEnvs();
    await new Promise((resolve) => server?.close(resolve));
    await store?.close();
    await fhir?.stop();
    if (folder !== undefined) rmSync(folder, { recursive: true });
  });

  const send = async (to: string, body: unknown): Promise<JsonObject> => {
    const response = await fetch(`${url}${to}`, {
      method: 'POST',
      headers: { 'Content-Type': 'application/json' },
      body: JSON.stringify(body),
    });
    expect(response.status).toBe(200);
    return (await response.json()) as JsonObject;
  };
  const ask = async (
    hook: 'appointment-book' | 'order-sign',
    number: number,
  ): Promise<readonly WireCard[]> => {
    const instance = `3f2b8f0e-6a3c-4d63-9c1e-5b8a7d2f${String(number).padStart(4, '0')}`;
    const to = hook === 'order-sign' ? ORDER_PATH : BOOKING_PATH;
    const answer = await send(to, bare(hook, fhir?.base ?? '', instance));
    return answer['cards'] as readonly WireCard[];
  };
  const called = async (...args: readonly string[]): Promise<Called> => {
    const done = await kotyle(args);
    expect(done.err).not.toContain('should not happen');
    return done;
  };
  const exported = async (...args: readonly string[]): Promise<string> => {
    const out = join(folder ?? '', 'out');
    const { code, err } = await called('export', ...args, '--out', out);
    expect(err).toMatch(/^wrote \d+ lines/);
    expect(code).toBe(0);
    // It is health data: readable by its owner only.
    expect(statSync(out).mode & 0o777).toBe(0o600);
    return readFileSync(out, 'utf8');
  };

  it('[B9] is booked, ordered, answered and acknowledged, exported, replayed, forgotten; and the chain holds throughout', async () => {
    // Booked: what to know is read from the record system.
    const booked = await ask('appointment-book', 1);
    expect(rulesOf(booked)).toEqual(expected.cards['appointment-book']?.map(({ rule }) => rule));
    // Ordered: every card the patient's expectation names.
    const ordered = await ask('order-sign', 2);
    expect(rulesOf(ordered)).toEqual(expected.cards['order-sign']?.map(({ rule }) => rule));
    expect(fhir?.requests.length).toBeGreaterThan(5);
    // Answered.
    const feedback = ordered.map(({ uuid, suggestions: [first] }, index) =>
      index === 0
        ? {
            card: uuid,
            outcome: 'accepted',
            outcomeTimestamp: NOW,
            acceptedSuggestions: [{ id: first?.uuid }],
          }
        : {
            card: uuid,
            outcome: 'overridden',
            outcomeTimestamp: NOW,
            overrideReason: { userComment: `=1+1, "discussed"\r\nwith the family ${index}` },
          },
    );
    expect(await send(`${ORDER_PATH}/feedback`, { feedback })).toEqual({});
    // Acknowledged: what was answered stays quiet.
    const acknowledgeable = ordered.filter(
      (card) => card.extension['example.kotyle.advisory']['acknowledgement'],
    );
    expect(acknowledgeable.length).toBeGreaterThan(0);
    const again = rulesOf(await ask('order-sign', 3));
    for (const card of acknowledgeable) expect(again).not.toContain(card.source.topic.code);

    const heads = join(folder ?? '', 'heads.json');
    expect((await called('export', '--heads', '--out', heads)).code).toBe(0);
    await checkExports(ordered);
    await checkReplay();

    // Forgotten: contents and comments go, records and chain stay.
    const id = String(callFor(bundle, 'order-sign').context['patientId']);
    const forgetting = ['forget', '--patient', id, '--fhir-server', fhir?.base ?? ''];
    expect(await called(...forgetting)).toMatchObject({
      code: 0,
      out: `${3 + feedback.length - 1} contents and comments removed, ${feedback.length > 0 ? 1 : 0} keys destroyed\n`,
    });
    expect((await called(...forgetting)).out).toBe('0 contents and comments removed, 0 keys destroyed\n');
    const verified = await called('verify', '--heads', heads);
    expect(verified.out).toMatch(/everything fits/);
    expect(verified.code).toBe(0);
    const after = await exported('feedback', '--format', 'csv');
    expect(after).not.toContain('family');
    expect(after).toContain('(a comment that is no longer kept)');
    const [record] = await recordsOf();
    expect(await called('replay', record?.id ?? '')).toMatchObject({ code: 2 });
  }, 120_000);

  const recordsOf = async (): Promise<readonly DecisionRecord[]> =>
    (await exported('decisions'))
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line) as DecisionRecord);

  async function checkExports(ordered: readonly WireCard[]): Promise<void> {
    const records = await recordsOf();
    expect(records.map(({ hook }) => hook)).toEqual(['appointment-book', 'order-sign', 'order-sign']);
    const rows = csvRows(await exported('decisions', '--format', 'csv'));
    expect(rows).toHaveLength(1 + records.flatMap(({ outcomes }) => outcomes).length);
    const events = (await exported('decisions', '--format', 'audit-event')).trim().split('\n');
    expect(events).toHaveLength(3);
    // Truth: independent implementation, two validators of FHIR R4.
    for (const event of events) expect(fhirIssues(JSON.parse(event) as object)).toEqual([]);
    // B9: intervention, action taken, user feedback, user, date, location; then card and version of the rule.
    const [head = [], ...answers] = csvRows(await exported('feedback', '--format', 'csv'));
    expect(head.slice(0, 8)).toEqual([
      'intervention',
      'action taken',
      'user feedback',
      'user (pseudonym)',
      'date',
      'location',
      'card',
      'rule version',
    ]);
    expect(answers.map((row) => row[6]).sort()).toEqual(ordered.map(({ uuid }) => uuid).sort());
    for (const [index, { uuid, source }] of ordered.entries()) {
      const row = answers.find((each) => each[6] === uuid) ?? [];
      expect(row.slice(0, 2)).toEqual([source.topic.code, index === 0 ? 'accepted' : 'overridden']);
      // A spreadsheet would compute it; quoted, with its line break.
      expect(row[2]).toBe(index === 0 ? '' : `'=1+1, "discussed"\r\nwith the family ${index}`);
      expect(row[3]).toMatch(/^[0-9a-f]{64}$/);
      expect(row.slice(4, 6)).toEqual([NOW, 'hip-stability-order order-sign']);
    }
    const none = await exported('decisions', '--from', '2026-11-24T11:00:00Z');
    expect(none).toBe('');
  }

  async function checkReplay(): Promise<void> {
    for (const { id } of await recordsOf()) {
      const replayed = await called('replay', id);
      expect(replayed.out).toMatch(/^as it was: \d+ outcomes, and \d+ cards byte for byte\n$/);
      expect(replayed.code).toBe(0);
    }
  }
});

/** RFC 4180, written down from its grammar. */
function csvRows(text: string): readonly (readonly string[])[] {
  const rows: string[][] = [];
  let row: string[] = [];
  const cell = /("(?:[^"]|"")*"|[^",\r\n]*)(,|\r\n|$)/y;
  while (cell.lastIndex < text.length) {
    const match = cell.exec(text);
    if (!match) throw new Error(`not RFC 4180 at ${cell.lastIndex}`);
    const [, written = '', end] = match;
    row.push(written.startsWith('"') ? written.slice(1, -1).replaceAll('""', '"') : written);
    if (end === ',') continue;
    rows.push(row);
    row = [];
  }
  return rows;
}

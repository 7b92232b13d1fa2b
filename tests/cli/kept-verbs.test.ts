import { randomBytes } from 'node:crypto';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { csvRow } from '../../src/server/export/csv.js';
import { openStore } from '../../src/store/open-store.js';
import type { DecisionRecord } from '../../src/store/store.js';
import { testPatients } from '../advice/patients.js';
import { callFor, ORDER_PATH, post, TEST_KEY, testApp } from '../server/test-service.js';
import { answer, decision, temporaryFolder, uuid } from '../store/records.js';
import { execSqlite } from '../store/sqlite-rows.js';
import { kotyle } from './kotyle-io.js';

const KEY = TEST_KEY.export().toString('base64');
const CONTENT = { call: { patientId: 'patient-1' }, cards: [] };
const folder = temporaryFolder();
let path = '';

beforeEach(async () => {
  path = join(folder(), 'kotyle.sqlite');
  const store = await openStore({ path, contentKey: TEST_KEY, writer: 'service' });
  await store.saveDecision(decision(1), CONTENT);
  await store.saveFeedback([answer(1, { comment: 'a comment' }), answer(2)]);
  await store.close();
  vi.stubEnv('KOTYLE_STORE', path);
  vi.stubEnv('KOTYLE_CONTENT_KEY', KEY);
  vi.stubEnv('KOTYLE_PSEUDONYM_KEY', KEY);
});
afterEach(() => {
  vi.unstubAllEnvs();
});

const beside = (name: string): string => join(path, '..', name);

describe('every verb that looks at what was kept', () => {
  it('refuses a store that is not there, and makes none', async () => {
    vi.stubEnv('KOTYLE_STORE', beside('none.sqlite'));
    for (const args of [
      ['export'],
      ['verify'],
      ['prune'],
      ['replay', uuid(1)],
      ['forget', '--patient', '1'],
    ]) {
      const { code, err } = await kotyle(args);
      expect(err, args.join(' ')).toMatch(/expected the store of a service, found nothing at .*none\.sqlite/);
      expect(code).toBe(2);
    }
    expect(() => readFileSync(beside('none.sqlite'))).toThrow(/ENOENT/);
  });

  it('tells a setting that is wrong, without a secret', async () => {
    vi.stubEnv('KOTYLE_CONTENT_KEY', 'Zqxmarker');
    const { code, err } = await kotyle(['verify']);
    expect(err).toContain('KOTYLE_CONTENT_KEY');
    expect(err).not.toContain('Zqxmarker');
    expect(code).toBe(2);
  });
});

describe('kotyle export', () => {
  it('prints decisions as they are kept, one a line', async () => {
    const { out, code } = await kotyle(['export', 'decisions']);
    // Truth: closed form.
    expect(JSON.parse(out)).toEqual(decision(1));
    expect(code).toBe(0);
  });

  it('prints comments only under the key they were sealed with', async () => {
    expect((await kotyle(['export', 'feedback'])).out).toContain('a comment');
    vi.stubEnv('KOTYLE_CONTENT_KEY', randomBytes(32).toString('base64'));
    const { out, code } = await kotyle(['export', 'feedback']);
    expect(out).not.toContain('a comment');
    expect(out).toContain('"commentUnreadable":true');
    expect(code).toBe(0);
  });

  it('takes a span of time and a client, and refuses what is none', async () => {
    const lines = async (...args: readonly string[]): Promise<number> =>
      (await kotyle(['export', ...args])).out.split('\n').length - 1;
    expect(await lines('--from', '2026-11-24', '--to', '2026-11-25')).toBe(1);
    expect(await lines('--from', '2026-11-25')).toBe(0);
    expect(await lines('--to', '2026-11-24T12:00:00+02:00')).toBe(0);
    expect(await lines('--iss', 'https://other.example')).toBe(0);
    const { code, err } = await kotyle(['export', '--from', 'yesterday']);
    expect(err).toContain('--from: expected a day or an instant');
    expect(code).toBe(2);
    expect((await kotyle(['export', 'feedback', '--format', 'audit-event'])).code).toBe(2);
  });

  it('leaves nothing half-written where it cannot write', async () => {
    const { code, err } = await kotyle(['export', '--out', beside('none/out')]);
    expect(err).toContain('its folder does not exist');
    expect(code).toBe(2);
  });
});

describe('a CSV row', () => {
  it('is quoted as RFC 4180 asks, and never a formula', () => {
    // Truth: published, RFC 4180 section 2; OWASP "CSV Injection": cells that begin with = + - @ tab or return.
    const cells = ['a', 'b,c', 'd"e', 'f\r\ng', undefined, true, 7, '-'];
    expect(csvRow(cells)).toBe('a,"b,c","d""e","f\r\ng",,true,7,-');
    for (const begin of ['=', '+', '-', '@', '\t', '＝', '＋', '－', '＠'])
      expect(csvRow([`${begin}1`])).toBe(`'${begin}1`);
    expect(csvRow(['\r1'])).toBe(`"'\r1"`);
    expect(csvRow([-1])).toBe('-1');
  });
});

describe('kotyle verify', () => {
  it('says that everything fits, or each break with writer and place', async () => {
    expect(await kotyle(['verify'])).toMatchObject({
      out: '5 entries of 1 writer, 0 heads compared: everything fits\n',
      code: 0,
    });
    execSqlite(path, `update feedback set outcome = 'accepted' where card = '${uuid(2)}'`);
    const { out, code } = await kotyle(['verify']);
    expect(out).toMatch(
      /writer service, entry 5, feedback \S+: expected the row as it was written, found it changed/,
    );
    expect(code).toBe(1);
    const { breaks } = JSON.parse((await kotyle(['verify', '--json'])).out) as { readonly breaks: object[] };
    expect(breaks).toHaveLength(2);
  });

  it('shows an end that was cut off by heads exported before, and takes no other file for heads', async () => {
    const heads = beside('heads.json');
    expect((await kotyle(['export', '--heads', '--out', heads])).code).toBe(0);
    expect((await kotyle(['verify', '--heads', heads])).out).toContain('1 heads compared: everything fits');
    execSqlite(path, `delete from chain where seq = 5; delete from feedback where card = '${uuid(2)}'`);
    expect((await kotyle(['verify'])).code).toBe(0);
    const { out, code } = await kotyle(['verify', '--heads', heads]);
    expect(out).toContain('writer service, entry 5, head service: expected the entry of that head');
    expect(code).toBe(1);
    for (const text of ['', '{}', '[]', '{"kotyleHeads":2,"heads":[]}', '{"kotyleHeads":1,"heads":[{}]}']) {
      writeFileSync(heads, text);
      expect((await kotyle(['verify', '--heads', heads])).err, text).toContain('kotyle export --heads');
    }
  });
});

describe('kotyle prune', () => {
  it('removes what is past its time and says how much', async () => {
    execSqlite(path, `update contents set until = '2020-01-01T00:00:00.000Z' where kind = 'decision'`);
    const { out, code } = await kotyle(['prune']);
    expect(out).toMatch(/^removed: \d+ contents, \d+ keys/);
    expect(code).toBe(0);
  });
});

describe('kotyle forget', () => {
  it('wants the key under which patients were named', async () => {
    vi.stubEnv('KOTYLE_PSEUDONYM_KEY', undefined);
    const { code, err } = await kotyle(['forget', '--patient', 'patient-1']);
    expect(err).toContain('KOTYLE_PSEUDONYM_KEY');
    expect(code).toBe(2);
  });

  it('says so where nothing is kept of a patient', async () => {
    const { out, code } = await kotyle(['forget', '--patient', 'nobody']);
    expect(out).toBe('0 contents and comments removed, 0 keys destroyed\n');
    expect(code).toBe(0);
  });
});

describe('kotyle replay', () => {
  const patient = testPatients().find(({ name }) => name === 'demo-parkinson-steep-cup');
  const bundle = patient?.bundle ?? {};

  const decided = async (): Promise<DecisionRecord> => {
    const store = await openStore({ path, contentKey: TEST_KEY });
    await post(testApp({ store, audit: 'required' }), ORDER_PATH, callFor(bundle, 'order-sign'));
    let last: DecisionRecord | undefined;
    for await (const record of store.decisions()) if (record.inputs.length > 2) last = record;
    await store.close();
    if (!last) throw new Error('expected a decision');
    return last;
  };

  it('makes a decision again from what is kept, and tells what is not as it was', async () => {
    const { id, cards, outcomes } = await decided();
    const held = `as it was: ${outcomes.length} outcomes, and ${cards.length} cards byte for byte\n`;
    expect(await kotyle(['replay', id])).toMatchObject({ out: held, code: 0 });
    // A record of which one outcome was turned round.
    const [fired] = outcomes.filter(({ outcome }) => outcome === 'fires');
    const turned = outcomes.map((one) => (one === fired ? { ...one, outcome: 'does-not-fire' } : one));
    const store = await openStore({ path, contentKey: TEST_KEY });
    const record = await store.decision(id);
    await store.close();
    const changed = JSON.stringify({ ...record, outcomes: turned }).replaceAll("'", "''");
    execSqlite(path, `update decisions set record = '${changed}' where id = '${id}'`);
    const { out, code } = await kotyle(['replay', id]);
    expect(out).toContain(`outcome as it is now: ${fired?.rule ?? ''}`);
    expect(out).toContain(`outcome as it was: ${fired?.rule ?? ''}`);
    expect(code).toBe(1);
  });

  it('makes it again from the resources themselves, once their digests are the same', async () => {
    const { id, inputs } = await decided();
    execSqlite(path, 'delete from contents');
    expect((await kotyle(['replay', id])).err).toContain('expected the contents of');
    const file = beside('bundle.json');
    writeFileSync(file, JSON.stringify(bundle));
    const replayed = await kotyle(['replay', id, '--bundle', file]);
    expect(replayed.out).toMatch(/^as it was: \d+ outcomes, and \d+ cards by id, rule and indicator\n$/);
    expect(replayed.code).toBe(0);
    // One value changed: it is not what was read.
    const text = JSON.stringify(bundle);
    const other = text.replace('"value":60', '"value":61');
    expect(other).not.toBe(text);
    writeFileSync(file, other);
    const { out, code } = await kotyle(['replay', id, '--bundle', file]);
    expect(out).toMatch(
      new RegExp(
        `\\d+ of ${inputs.length} resources are the same; missing: Observation; not read then: Observation`,
      ),
    );
    expect(code).toBe(1);
  });

  it('wants a decision that is kept, and the rulebook it was made with', async () => {
    expect((await kotyle(['replay', uuid(99)])).err).toContain('expected a kept decision');
    const { code, err } = await kotyle(['replay', uuid(1)]);
    expect(err).toContain('found it neither set, released nor shipped');
    expect(code).toBe(2);
  });
});

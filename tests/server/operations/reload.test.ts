import { createSecretKey } from 'node:crypto';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { packHash } from '../../../src/rulebook/build.js';
import { openStore } from '../../../src/store/open-store.js';
import { ORDER_PATH, orderCall, planned, TEXTBOOK } from '../test-service.js';
import type { WireCard } from '../test-service.js';
import { packOfVersion, putPack } from './packs.js';
import { bundleService } from '../bundled-service.js';
import { pause, startProcess } from './service-process.js';
import type { ServiceProcess } from './service-process.js';
import { callTraffic, hookInstance } from './traffic.js';

const OLD = packOfVersion('2026.10.1');
const NEW = packOfVersion('2026.12.7');
const HASHES = { old: packHash(OLD), new: packHash(NEW) };

const folder = mkdtempSync(join(tmpdir(), 'kotyle-reload-'));
let bundled = '';
beforeAll(async () => {
  bundled = await bundleService();
}, 60_000);
afterAll(() => {
  rmSync(folder, { recursive: true });
  rmSync(bundled, { recursive: true });
});

/** The rulebooks an answer was made with: one, if it was not mixed. */
function hashesIn(text: string): readonly string[] {
  return [...new Set([...text.matchAll(/"rulebookHash":"([^"]+)"/g)].map(([, hash = '']) => hash))];
}

async function end(service: ServiceProcess): Promise<void> {
  service.child.kill('SIGTERM');
  expect(await service.ended).toBe(0);
}

async function untilLogged(service: ServiceProcess, text: string): Promise<void> {
  while (!service.log().includes(text)) await pause(5);
}

describe('SIGHUP', () => {
  it('puts a new rulebook in force under load: every answer is made with one, none fails', async () => {
    const path = join(folder, 'rulebook.json');
    putPack(path, OLD);
    const service = await startProcess(bundled, { KOTYLE_RULEBOOK: path, KOTYLE_MOST_AT_ONCE: '100' });
    const traffic = callTraffic(service.url, 6);
    while (traffic.exchanges.length < 20) await pause(5);
    putPack(path, NEW);
    service.child.kill('SIGHUP');
    await untilLogged(service, HASHES.new);
    const before = traffic.exchanges.length;
    while (traffic.exchanges.length < before + 20) await pause(5);
    await traffic.stop();
    await end(service);
    expect(traffic.exchanges.filter(({ status }) => status !== 200)).toEqual([]);
    const made = traffic.exchanges.map(({ text }) => hashesIn(text));
    expect(made.filter((hashes) => hashes.length !== 1)).toEqual([]);
    expect([...new Set(made.flat())].sort()).toEqual([HASHES.old, HASHES.new].sort());
    expect(made.at(-1)).toEqual([HASHES.new]);
  }, 60_000);

  it('changes nothing when the new one has a fault, and the log says which', async () => {
    const path = join(folder, 'faulty.json');
    putPack(path, OLD);
    const service = await startProcess(bundled, { KOTYLE_RULEBOOK: path });
    const rules = NEW.files.find(({ path: name }) => name.startsWith('advisories/'));
    const broken = { ...(rules?.content as object), indicator: 'panic' };
    putPack(path, {
      files: [...NEW.files.filter((file) => file !== rules), { path: rules?.path ?? '', content: broken }],
    });
    service.child.kill('SIGHUP');
    await untilLogged(service, 'those in force stay');
    expect(service.log()).toContain(rules?.path);
    putPack(path, 'half a file {');
    service.child.kill('SIGHUP');
    while ((service.log().match(/those in force stay/g) ?? []).length < 2) await pause(5);
    const health = (await (await fetch(`${service.url}/health`)).json()) as { readonly rulebookHash: string };
    expect(health.rulebookHash).toBe(HASHES.old);
    const metrics = await (await fetch(`${service.operationsUrl}/metrics`)).text();
    expect(metrics).toContain('kotyle_reloads_total{came="refused"} 2');
    await end(service);
  }, 60_000);
});

describe('an old and a new instance on one store', () => {
  const measures = [...TEXTBOOK.slice(1), planned('cup-inclination', 60, 'deg')];

  async function cards(service: ServiceProcess, number: number): Promise<readonly WireCard[]> {
    const response = await fetch(`${service.url}${ORDER_PATH}`, {
      method: 'POST',
      headers: { 'Content-Type': 'application/json' },
      body: JSON.stringify({ ...orderCall({ measures }), hookInstance: hookInstance(number) }),
    });
    expect(response.status).toBe(200);
    return ((await response.json()) as { readonly cards: readonly WireCard[] }).cards;
  }

  async function accept(service: ServiceProcess, card: WireCard | undefined): Promise<void> {
    const item = {
      card: card?.uuid,
      outcome: 'accepted',
      acceptedSuggestions: [{ id: card?.suggestions[0]?.uuid }],
      outcomeTimestamp: '2026-11-24T10:00:00Z',
    };
    const response = await fetch(`${service.url}${ORDER_PATH}/feedback`, {
      method: 'POST',
      headers: { 'Content-Type': 'application/json' },
      body: JSON.stringify({ feedback: [item] }),
    });
    expect(response.status).toBe(200);
  }

  it('work beside each other, and the old goes on alone when the new is taken back', async () => {
    const path = join(folder, 'two.sqlite');
    const [oldPack, newPack] = [join(folder, 'old.json'), join(folder, 'new.json')];
    putPack(oldPack, OLD);
    putPack(newPack, NEW);
    const settings = { KOTYLE_STORE: path, KOTYLE_AUDIT: 'required' };
    const old = await startProcess(bundled, { ...settings, KOTYLE_RULEBOOK: oldPack });
    const successor = await startProcess(bundled, { ...settings, KOTYLE_RULEBOOK: newPack });
    const [first] = await cards(old, 1);
    const [second] = await cards(successor, 2);
    expect(first?.uuid).not.toBe(second?.uuid);
    expect(second?.extension['example.kotyle.advisory']['rulebookHash']).toBe(HASHES.new);
    // A card of the new answered at the old, which then goes on alone.
    await accept(old, second);
    await end(successor);
    expect((await cards(old, 3)).map(({ summary }) => summary)).not.toContain(first?.summary);
    await end(old);
    const key = createSecretKey(Buffer.alloc(32, 8));
    const store = await openStore({ path, contentKey: key });
    const rulebooks: string[] = [];
    for await (const decision of store.decisions()) rulebooks.push(decision.rulebook.version);
    expect(rulebooks.sort()).toEqual(['2026.10.1', '2026.10.1', '2026.12.7']);
    expect((await store.verify()).breaks).toEqual([]);
    await store.close();
  }, 60_000);
});

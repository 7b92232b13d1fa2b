import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { bundleService } from '../bundled-service.js';
import { startAndFail, startProcess, statusOf } from './service-process.js';

const folder = mkdtempSync(join(tmpdir(), 'kotyle-start-'));
let bundled = '';
beforeAll(async () => {
  bundled = await bundleService();
}, 60_000);
afterAll(() => {
  rmSync(folder, { recursive: true });
  rmSync(bundled, { recursive: true });
});

function file(name: string, content: string): string {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
}

/** What it says when it is started with these settings, which must keep it from starting. */
async function refusal(settings: Readonly<Record<string, string>>): Promise<string> {
  const { code, said } = await startAndFail(bundled, settings);
  expect(code).toBe(1);
  // For whoever set it up: where in the program it was found is of no use to them.
  expect(said).not.toMatch(/\bat .+:\d+:\d+/);
  expect(said).toContain('not started: ');
  return said;
}

describe('the service does not start', () => {
  it('with settings of the wrong form, and names each', async () => {
    const said = await refusal({ KOTYLE_PORT: 'many', KOTYLE_MOST_AT_ONCE: '0', KOTYLE_AUDIT: 'always' });
    for (const setting of ['KOTYLE_PORT', 'KOTYLE_MOST_AT_ONCE', 'KOTYLE_AUDIT'])
      expect(said).toContain(setting);
  });

  it('in production without what production needs, and names all of it at once', async () => {
    const said = await refusal({ KOTYLE_MODE: 'production' });
    for (const setting of ['KOTYLE_PUBLIC_URL', 'KOTYLE_TLS_IN_FRONT', 'KOTYLE_CLIENTS', 'KOTYLE_SITE'])
      expect(said).toContain(setting);
  });

  it('with a pack that is not there, is no pack, or has been changed since it was released', async () => {
    expect(await refusal({ KOTYLE_RULEBOOK: join(folder, 'none.json') })).toMatch(/KOTYLE_RULEBOOK.*ENOENT/);
    expect(await refusal({ KOTYLE_RULEBOOK: file('words.json', '"words"') })).toMatch(
      /KOTYLE_RULEBOOK.*expected/,
    );
  });

  it('with a site file that has a fault, and says where, what was expected and what was found', async () => {
    const site = file(
      'site.json',
      JSON.stringify({ id: 'here', version: '1', ceiling: { 'order-sign': 'four' } }),
    );
    const said = await refusal({ KOTYLE_SITE: site });
    expect(said).toMatch(/KOTYLE_SITE.*site\.json/);
    expect(said).toContain('ceiling');
  });

  it('with a store that cannot be used', async () => {
    expect(await refusal({ KOTYLE_STORE: '/nowhere/at/all/kotyle.sqlite' })).toContain('/nowhere/at/all');
  });

  it('on a port that somebody else has', async () => {
    const other = createServer().listen(0, '127.0.0.1');
    await new Promise((resolve) => other.once('listening', resolve));
    const { port } = other.address() as AddressInfo;
    expect(await refusal({ KOTYLE_PORT: String(port) })).toContain('EADDRINUSE');
    expect(await refusal({ KOTYLE_OPERATIONS_PORT: String(port) })).toContain('EADDRINUSE');
    other.close();
  });
});

describe('a service that starts', () => {
  it('says mode, rulebook, its status and what speaks, and tells counts to operators only', async () => {
    const service = await startProcess(bundled);
    expect(service.log()).toMatch(/"mode":"development"/);
    expect(service.log()).toMatch(/"rulebook":\{"version":"[\d.]+","hash":"sha256-/);
    expect(service.log()).toContain('draft, experimental');
    expect(service.log()).toMatch(/"hip-stability-order":\{"state":"speak"/);
    for (const path of ['/health', '/ready', '/metrics'])
      expect(await statusOf(`${service.operationsUrl}${path}`), path).toBe(200);
    expect(await statusOf(`${service.operationsUrl}/cds-services`)).toBe(404);
    expect(await statusOf(`${service.url}/metrics`)).toBe(404);
    service.child.kill('SIGTERM');
    expect(await service.ended).toBe(0);
  }, 30_000);
});

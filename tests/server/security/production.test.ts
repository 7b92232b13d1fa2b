import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pino } from 'pino';
import { afterAll, describe, expect, it } from 'vitest';
import { loadSite } from '../../../src/rulebook-files/read-site.js';
import { loadClients } from '../../../src/server/auth/clients-file.js';
import { readConfig } from '../../../src/server/config.js';
import { productionFaults } from '../../../src/server/security/production-faults.js';
import { startService } from '../../../src/server/serve.js';
import { advisor, rulebook } from '../../advice/patients.js';
import { EC, ISS, PUBLIC_URL, signedBy, token } from '../auth/tokens.js';
import { ORDER_PATH, orderCall } from '../test-service.js';
import { openThreaded } from '../../store/threaded.js';

const folder = mkdtempSync(join(tmpdir(), 'kotyle-production-'));

afterAll(() => {
  rmSync(folder, { recursive: true });
});

function written(name: string, content: unknown): string {
  const path = join(folder, name);
  writeFileSync(path, JSON.stringify(content));
  return path;
}

function siteFile(name: string, contentHash: string): string {
  const approvals = [{ by: 'A. Person', role: 'clinical lead', date: '2026-11-20', contentHash }];
  return written(name, { id: 'test-site', version: '1', approvals });
}

const signed = siteFile('signed.json', rulebook.hash);
const unsigned = siteFile('unsigned.json', `sha256-${'0'.repeat(64)}`);
const clientsFile = written('clients.json', {
  clients: [{ iss: ISS, keys: [EC.jwk], fhirServers: ['https://record.example/fhir'] }],
});
const key = (byte: number): string => Buffer.alloc(32, byte).toString('base64');

type Environment = Readonly<Record<string, string | undefined>>;

/** Everything that production asks for. */
const WHOLE: Environment = {
  KOTYLE_MODE: 'production',
  KOTYLE_PORT: '0',
  KOTYLE_LOG_LEVEL: 'silent',
  KOTYLE_PUBLIC_URL: PUBLIC_URL,
  KOTYLE_TLS_IN_FRONT: 'true',
  KOTYLE_CLIENTS: clientsFile,
  KOTYLE_PSEUDONYM_KEY: key(1),
  KOTYLE_CONTENT_KEY: key(2),
  KOTYLE_STORE: join(folder, 'kotyle.sqlite'),
  KOTYLE_SITE: signed,
  KOTYLE_FHIR_SERVERS: 'https://record.example/fhir',
};

function faultsOf(change: Environment): readonly string[] {
  const config = readConfig({ ...WHOLE, ...change });
  const site = config.site === undefined ? undefined : loadSite(config.site, rulebook);
  const clients = config.clients === undefined ? [] : loadClients(config.clients);
  return productionFaults(config, { advisor, ...(site && { site }) }, clients);
}

const WRONG: readonly (readonly [string, Environment, RegExp])[] = [
  [
    'no public URL',
    { KOTYLE_PUBLIC_URL: undefined },
    /^KOTYLE_PUBLIC_URL: expected the https URL.*found nothing$/,
  ],
  [
    '[G1] a public URL without TLS',
    { KOTYLE_PUBLIC_URL: 'http://hip.hospital.example' },
    /^KOTYLE_PUBLIC_URL: expected an https URL, found an http URL$/,
  ],
  [
    '[G1] nothing said of TLS in front',
    { KOTYLE_TLS_IN_FRONT: undefined },
    /^KOTYLE_TLS_IN_FRONT: expected true/,
  ],
  [
    'TLS in front denied',
    { KOTYLE_TLS_IN_FRONT: 'false' },
    /^KOTYLE_TLS_IN_FRONT: expected true.*found false$/,
  ],
  [
    'no clients',
    { KOTYLE_CLIENTS: undefined },
    /^KOTYLE_CLIENTS: expected the file of clients.*found nothing$/,
  ],
  ['no key of pseudonyms', { KOTYLE_PSEUDONYM_KEY: undefined }, /^KOTYLE_PSEUDONYM_KEY: .*found nothing$/],
  ['no key of contents', { KOTYLE_CONTENT_KEY: undefined }, /^KOTYLE_CONTENT_KEY: .*found nothing$/],
  [
    'one key for both',
    { KOTYLE_CONTENT_KEY: key(1) },
    /^KOTYLE_CONTENT_KEY: expected a key of its own, found the same/,
  ],
  [
    'no store',
    { KOTYLE_STORE: undefined },
    /^KOTYLE_STORE: expected a SQLite file or a PostgreSQL URL, found nothing$/,
  ],
  ['a store that forgets', { KOTYLE_STORE: ':memory:' }, /^KOTYLE_STORE: .*found :memory:, which forgets$/],
  ['no site', { KOTYLE_SITE: undefined }, /^KOTYLE_SITE: expected the site file.*found nothing$/],
  [
    'a rulebook nobody signed',
    { KOTYLE_SITE: unsigned },
    /^KOTYLE_SITE: expected an approval of sha256-.*found none$/,
  ],
  [
    'a FHIR server without TLS',
    { KOTYLE_FHIR_SERVERS: 'https://record.example/fhir,http://x.example' },
    /found http:\/\/x/,
  ],
  [
    'an origin without TLS',
    { KOTYLE_CORS_ORIGINS: 'http://chart.example' },
    /^KOTYLE_CORS_ORIGINS: expected https/,
  ],
  [
    'a frame without TLS',
    { KOTYLE_FRAME_ANCESTORS: "'self',http://x.example" },
    /^KOTYLE_FRAME_ANCESTORS: expected https/,
  ],
];

describe('production', () => {
  it('has nothing against settings that are whole, with and without outbound calls', () => {
    expect(faultsOf({})).toEqual([]);
    const quiet = written('quiet.json', { clients: [{ iss: ISS, keys: [EC.jwk] }] });
    expect(faultsOf({ KOTYLE_FHIR_SERVERS: 'none', KOTYLE_CLIENTS: quiet })).toEqual([]);
    expect(
      faultsOf({ KOTYLE_CORS_ORIGINS: 'https://chart.example', KOTYLE_FRAME_ANCESTORS: "'self'" }),
    ).toEqual([]);
  });

  it.each(WRONG)('is not started with %s, and says so by the name of the setting', (_name, change, told) => {
    expect(faultsOf(change)).toEqual([expect.stringMatching(told)]);
  });

  it('is not started with FHIR servers left to the default, or with a client who names others', () => {
    expect(faultsOf({ KOTYLE_FHIR_SERVERS: undefined })).toEqual([
      'KOTYLE_FHIR_SERVERS: expected base URLs, or none for no outbound call, found nothing',
      expect.stringMatching(/^KOTYLE_CLIENTS: expected fhirServers .*found https:\/\/record\.example\/fhir$/),
    ]);
  });

  it('names every setting that is missing at once', () => {
    const bare = Object.fromEntries(Object.keys(WHOLE).map((name) => [name, undefined]));
    const named = faultsOf({ ...bare, KOTYLE_MODE: 'production' }).map((fault) => fault.split(':')[0]);
    expect(named).toEqual([
      'KOTYLE_PUBLIC_URL',
      'KOTYLE_TLS_IN_FRONT',
      'KOTYLE_CLIENTS',
      'KOTYLE_STORE',
      'KOTYLE_PSEUDONYM_KEY',
      'KOTYLE_CONTENT_KEY',
      'KOTYLE_FHIR_SERVERS',
      'KOTYLE_SITE',
    ]);
  });

  it('asks nothing of a service in development', () => {
    const config = readConfig({});
    expect(productionFaults(config, { advisor }, [])).toEqual([]);
  });
});

describe('the service as started in production', () => {
  it('serves callers it knows and nobody else', async () => {
    const service = await startService(readConfig(WHOLE), pino({ level: 'silent' }), openThreaded);
    try {
      const url = `${service.url}/kotyle${ORDER_PATH}`;
      const nowS = Math.floor(Date.now() / 1000);
      const claims = { iat: nowS, exp: nowS + 60 };
      const call = (authorization: Readonly<Record<string, string>>): Promise<Response> =>
        fetch(url, {
          method: 'POST',
          headers: { 'Content-Type': 'application/json', ...authorization },
          body: JSON.stringify(orderCall()),
        });
      expect((await call({})).status).toBe(401);
      const known = await call({ Authorization: `Bearer ${token({ claims }, signedBy(EC))}` });
      expect(known.status).toBe(200);
      expect(await known.json()).toEqual({ cards: [] });
    } finally {
      await service.stop();
    }
  });

  it('is a process that ends with 1 and names each missing setting, with no secret of those that are set', () => {
    const secret = key(7);
    const { status, stderr, stdout } = spawnSync(process.execPath, ['--import', 'tsx', 'src/cli/serve.ts'], {
      encoding: 'utf8',
      env: { PATH: process.env['PATH'], KOTYLE_MODE: 'production', KOTYLE_PSEUDONYM_KEY: secret },
    });
    expect(status).toBe(1);
    for (const setting of [
      'PUBLIC_URL',
      'TLS_IN_FRONT',
      'CLIENTS',
      'STORE',
      'CONTENT_KEY',
      'FHIR_SERVERS',
      'SITE',
    ])
      expect(stderr).toContain(`KOTYLE_${setting}: expected`);
    expect(stderr).not.toContain('KOTYLE_PSEUDONYM_KEY: expected');
    expect(stderr + stdout).not.toContain(secret);
  });
});

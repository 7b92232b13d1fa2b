import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { pino } from 'pino';
import { describe, expect, it } from 'vitest';
import { newSeenTokens } from '../../../src/server/auth/seen-tokens.js';
import { usableKeys } from '../../../src/server/auth/public-key.js';
import { verifyToken } from '../../../src/server/auth/verify-token.js';
import type { Verdict, Verifier } from '../../../src/server/auth/verify-token.js';
import { readToken } from '../../../src/server/auth/token.js';
import { openStore } from '../../../src/store/open-store.js';
import { TEST_KEY } from '../test-service.js';
import { client } from './tokens.js';

const EXAMPLES = fileURLToPath(new URL('../../published/cds-hooks/examples/', import.meta.url));

function published(name: string): unknown {
  return JSON.parse(readFileSync(`${EXAMPLES}spec-3.0-ballot-${name}.json`, 'utf8'));
}

const text = readFileSync(`${EXAMPLES}spec-sample-token.txt`, 'utf8').trim();
const { keys } = published('31-json-web-key-set-public-key') as { readonly keys: readonly unknown[] };
const claims = published('30-json-web-token-payload') as {
  readonly iss: string;
  readonly aud: string;
  readonly iat: number;
  readonly exp: number;
  readonly tenant: string;
};

/** The sample's own client: its key set is at the address the sample names, and is answered with the printed one. */
async function verify(nowS: number, maxAgeS: number, change: string = text): Promise<Verdict> {
  const store = await openStore({ path: ':memory:', contentKey: TEST_KEY });
  const jku = 'https://fhir-ehr.example.com/jwk_uri';
  const verifier: Verifier = {
    clients: [client({ iss: claims.iss, jku: [jku], keys: [], tenants: [claims.tenant] })],
    keySetsOf: () => ({
      keysAt: (url) => Promise.resolve(url === jku ? usableKeys(keys) : undefined),
    }),
    seen: newSeenTokens({ store, log: pino({ level: 'silent' }) }),
    storeRequired: true,
  };
  const rules = { audiences: [claims.aud], nowS, maxAgeS, skewS: 30 };
  return await verifyToken(`Bearer ${change}`, rules, verifier);
}

const AGE = claims.exp - claims.iat;

describe("the specification's sample token", () => {
  it('holds the header and the payload printed beside it', () => {
    const read = readToken(`Bearer ${text}`);
    expect(read?.header).toEqual(published('29-json-web-token-header'));
    expect(read?.claims).toEqual(claims);
  });

  it('[S3] is right by its printed key while it is valid, where no rule speaks of its age', async () => {
    expect(await verify(claims.iat + 10, AGE)).toMatchObject({ kind: 'accepted', tenant: claims.tenant });
    const [header = '', payload = '', signature = ''] = text.split('.');
    const forged = `${header}.${payload}.${signature.startsWith('d') ? 'e' : 'd'}${signature.slice(1)}`;
    expect(await verify(claims.iat + 10, AGE, forged)).toMatchObject({
      kind: 'refused',
      refusal: { reason: 'wrong-signature' },
    });
  });

  it('[S10] is refused by every rule of age, and today because it ended long ago', async () => {
    expect(AGE).toBe(111_287_890);
    expect(await verify(claims.iat + 10, 3600)).toMatchObject({ refusal: { reason: 'too-long-lived' } });
    expect(await verify(claims.iat + 10, AGE - 1)).toMatchObject({ refusal: { reason: 'too-long-lived' } });
    expect(await verify(Date.UTC(2026, 10, 24) / 1000, AGE)).toMatchObject({
      refusal: { reason: 'expired' },
    });
  });
});

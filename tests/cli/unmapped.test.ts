import { createSecretKey } from 'node:crypto';
import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import { openStore } from '../../src/store/open-store.js';
import type { UnmappedReport } from '../../src/workbench/unmapped/unmapped-report.js';
import { ORDERS, SITE_FILE } from '../facts/sites.js';
import { cardsOf, ORDER, ORDER_PATH, orderCall, post, testApp } from '../server/test-service.js';
import { kotyle } from './kotyle-io.js';

const folder = mkdtempSync(join(tmpdir(), 'kotyle-unmapped-'));
const path = join(folder, 'kotyle.sqlite');
const localOrder = (code: string): typeof ORDER => ({
  ...ORDER,
  code: { coding: [{ system: ORDERS, code, display: 'Zqxmarker' }], text: 'Zqxmarker' },
});

/** `THA` is a code that the site of the fixtures has a line for, the other is nobody's. */
const calls = ['HIP-X', 'HIP-X', 'THA'].map((code, index) => ({
  ...orderCall({ orders: [localOrder(code)] }),
  hookInstance: `3f2b8f0e-6a3c-4d63-9c1e-5b8a7d2f4e1${index}`,
}));

beforeAll(async () => {
  const store = await openStore({ path, contentKey: createSecretKey(Buffer.alloc(32, 7)) });
  const app = testApp({ store });
  for (const call of calls) expect(cardsOf(await post(app, ORDER_PATH, call))).toEqual([]);
  await store.close();
});

const sample = join(folder, 'calls.ndjson');
writeFileSync(sample, calls.map((call) => JSON.stringify(call)).join('\n'));

describe.each([
  ['--store', path],
  ['--sample', sample],
])('kotyle unmapped %s', (option, source) => {
  it('lists local codes that nothing understood, the most frequent first, and never a text', async () => {
    const { out, err, code } = await kotyle(['unmapped', option, source, '--json']);
    const report = JSON.parse(out) as UnmappedReport;
    expect(code).toBe(1);
    expect(
      report.local.map(({ resourceType, element, system, code: one, count }) => [
        resourceType,
        element,
        system,
        one,
        count,
      ]),
    ).toEqual([
      ['ServiceRequest', 'code', ORDERS, 'HIP-X', 2],
      ['ServiceRequest', 'code', ORDERS, 'THA', 1],
    ]);
    expect(out + err).not.toContain('Zqxmarker');
  });

  it('makes a map to fill in of what a site has no line for', async () => {
    const { out } = await kotyle(['unmapped', option, source, '--site', SITE_FILE, '--as-map']);
    const map = JSON.parse(out) as {
      readonly group: readonly { readonly element: readonly { code: string }[] }[];
    };
    expect(map.group.flatMap(({ element }) => element.map(({ code }) => code))).toEqual(['HIP-X']);
  });

  it('tells in words what a line would have to say', async () => {
    const { out } = await kotyle(['unmapped', option, source]);
    expect(out).toMatch(/2 {2}ServiceRequest\.code {2}HIP-X .*needs an operation/);
  });
});

describe('kotyle unmapped', () => {
  it('wants one source, and makes no store where there is none', async () => {
    for (const args of [
      [],
      ['--store', path, '--sample', sample],
      ['--store', join(folder, 'none.sqlite')],
    ]) {
      const { code, out } = await kotyle(['unmapped', ...args]);
      expect([code, out]).toEqual([2, '']);
    }
    const { code } = await kotyle(['unmapped', '--store', path, '--as-map', '--json']);
    expect(code).toBe(2);
  });
});

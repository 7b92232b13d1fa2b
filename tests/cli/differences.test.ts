import { createSecretKey } from 'node:crypto';
import { mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { openStore } from '../../src/store/open-store.js';
import { kotyle } from './kotyle-io.js';

const folder = mkdtempSync(join(tmpdir(), 'kotyle-differences-'));

describe('kotyle differences', () => {
  it('counts what a service has kept of its candidate, and ends with 1 when anything differs', async () => {
    const path = join(folder, 'kotyle.sqlite');
    const store = await openStore({ path, contentKey: createSecretKey(Buffer.alloc(32, 7)) });
    const about = {
      at: '2026-11-24T10:00:00.000Z',
      candidateHash: 'sha256-a',
      hip: 'left',
      construct: 'planned',
    };
    for (const decision of ['d1', 'd2'])
      await store.saveDifference({
        ...about,
        decision,
        kind: 'card',
        rule: 'steep',
        was: 'none',
        would: 'info',
      });
    await store.close();
    const { out, code } = await kotyle(['differences', '--store', path]);
    expect(code).toBe(1);
    expect(out).toMatch(/Candidate sha256-a:\n +2 {2}card {2}steep {2}none → info/);
    const json = await kotyle(['differences', '--store', path, '--json']);
    expect(JSON.parse(json.out)).toMatchObject([{ rule: 'steep', count: 2 }]);
  });

  it('ends with 0 on a store without any, and with 2 where there is no store', async () => {
    const path = join(folder, 'empty.sqlite');
    await (await openStore({ path, contentKey: createSecretKey(Buffer.alloc(32, 7)) })).close();
    expect((await kotyle(['differences', '--store', path])).code).toBe(0);
    expect((await kotyle(['differences', '--store', join(folder, 'none.sqlite')])).code).toBe(2);
  });
});

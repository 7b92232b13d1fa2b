import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { contentHash } from '../../src/base/hash.js';
import { COMPUTATION_IDS } from '../../src/advice/index.js';
import { buildRulebook, packHash } from '../../src/rulebook/build.js';
import type { Pack } from '../../src/rulebook/pack.js';
import { jsonSchemas } from '../../src/rulebook/json-schemas.js';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { RULES, shipped, shippedPack } from './shipped.js';

describe('the hash of a rulebook', () => {
  it('is that of its files and does not depend on their order, and neither does what they mean', () => {
    // Truth: the project's design: content-hashed; a folder is listed in another order on another machine.
    expect(shipped.hash).toBe(packHash(shippedPack));
    expect(shipped.hash).toMatch(/^sha256-[0-9a-f]{64}$/);
    fc.assert(
      fc.property(
        fc.shuffledSubarray([...shippedPack.files], { minLength: shippedPack.files.length }),
        (files) => {
          expect(packHash({ files })).toBe(shipped.hash);
        },
      ),
      { numRuns: 20, seed: 1 },
    );
    const reversed = buildRulebook({ files: [...shippedPack.files].reverse() }, COMPUTATION_IDS);
    expect(reversed.ok && reversed.rulebook.rules).toEqual(shipped.rules);
    expect(reversed.ok && [...reversed.rulebook.parameters]).toEqual([...shipped.parameters]);
    expect(reversed.ok && reversed.rulebook.facts).toEqual(shipped.facts);
  });

  it('does not depend on how members were ordered or indented', () => {
    // Truth: RFC 8785 canonical form.
    const files = shippedPack.files.map(({ path, content }) => ({ content: reordered(content), path }));
    expect(packHash({ files })).toBe(shipped.hash);
  });

  it('changes with any content, any name, and any file more or less', () => {
    // Truth: closed form; one change to each file in turn.
    const hashes = new Set<string>([shipped.hash]);
    for (const { path } of shippedPack.files) {
      const with_ = (change: (file: Pack['files'][number]) => Pack['files']): string =>
        packHash({
          files: shippedPack.files.flatMap((file) => (file.path === path ? change(file) : [file])),
        });
      hashes.add(with_((file) => [{ ...file, content: { ...(file.content as object), touched: true } }]));
      hashes.add(with_((file) => [{ ...file, path: `${file.path}.old` }]));
      hashes.add(with_(() => []));
    }
    expect(hashes.size).toBe(1 + 3 * shippedPack.files.length);
  });

  it('is taken over files, not over their texts run together', () => {
    // Truth: closed form.
    expect(packHash({ files: [{ path: 'a', content: 1 }] })).toBe(contentHash([['a', contentHash(1)]]));
  });
});

describe('the folder of the rulebook', () => {
  it('is read without what is generated from it', () => {
    // Truth: the project's layout: schema/ is made from the definitions, releases/ hold packs.
    const folders = new Set(shippedPack.files.map(({ path }) => path.split('/')[0]));
    expect(folders.has('schema')).toBe(false);
    expect(folders.has('releases')).toBe(false);
    expect([...folders].every((folder) => !folder?.includes('\\'))).toBe(true);
  });

  it('holds JSON Schemas that are those its definitions make', () => {
    // Truth: closed form; a schema that lags behind would wave through what the loader refuses.
    for (const [name, text] of jsonSchemas()) {
      const file = readFileSync(join(RULES, 'schema', `${name}.schema.json`), 'utf8');
      expect(JSON.parse(file), name).toEqual(JSON.parse(text));
    }
  });
});

function reordered(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(reordered);
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(
    Object.entries(value)
      .reverse()
      .map(([name, member]) => [name, reordered(member)]),
  );
}

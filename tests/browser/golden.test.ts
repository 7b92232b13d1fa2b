import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { build } from 'vite';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { SERVICES } from '../../src/advice/index.js';
import { readPack } from '../../src/rulebook-files/read-pack.js';
import { inputFor, testPatients } from '../advice/patients.js';
import { CHROMIUM, launchChromium } from './chromium.js';
import { goldenEvaluation, type GoldenHashes, type PlainCall } from './golden-evaluation.js';

const pack = readPack(fileURLToPath(new URL('../../rules', import.meta.url)));

function plainCalls(): readonly PlainCall[] {
  return testPatients().flatMap(({ bundle }) =>
    SERVICES.flatMap(({ hook }) => {
      const input = inputFor(bundle, hook);
      return input ? [{ ...input, fetched: [...(input.fetched ?? [])] }] : [];
    }),
  );
}

/** The golden work as one classic script that leaves `golden` behind. */
async function browserScript(): Promise<string> {
  const result = await build({
    logLevel: 'silent',
    configFile: false,
    build: {
      write: false,
      minify: false,
      lib: {
        entry: fileURLToPath(new URL('./golden-evaluation.ts', import.meta.url)),
        formats: ['iife'],
        name: 'golden',
      },
    },
  });
  const outputs = Array.isArray(result) ? result : [result];
  const chunks = outputs.flatMap((one) => ('output' in one ? one.output : []));
  return chunks.flatMap((chunk) => (chunk.type === 'chunk' ? [chunk.code] : [])).join('\n');
}

describe('golden evaluations', () => {
  const closers: (() => Promise<void>)[] = [];
  const calls = plainCalls();
  let inNode: GoldenHashes | undefined;
  beforeAll(async () => {
    inNode = await goldenEvaluation(pack, calls);
  }, 60_000);
  afterAll(async () => {
    for (const close of closers) await close();
  });

  test('keep the SHA-256 of the mechanics in Node', () => {
    // Truth: snapshot beside closed forms, published figures and meshes, which the tests of the mechanics hold.
    const kept = JSON.parse(readFileSync(new URL('./golden.json', import.meta.url), 'utf8')) as unknown;
    expect(inNode?.evaluations).toBeGreaterThan(200);
    expect({ mechanics: inNode?.mechanics }).toEqual(kept);
  });

  test.skipIf(CHROMIUM === undefined)(
    'have one SHA-256 in Node and in Chromium (KOTYLE_CHROMIUM)',
    async () => {
      const browser = await launchChromium();
      closers.push(() => browser.close());
      const page = await browser.newPage();
      const failures: string[] = [];
      page.on('pageerror', (error) => failures.push(String(error)));
      await page.addScriptTag({ content: await browserScript() });
      // Text, not an expression over Node's objects: what runs there is what was bundled.
      const work = `golden.goldenEvaluation(${JSON.stringify(pack)}, ${JSON.stringify(calls)})`;
      const inBrowser = await page.evaluate<GoldenHashes>(work);
      expect(failures).toEqual([]);
      expect(inBrowser).toEqual(inNode);
    },
    120_000,
  );
});

import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';
import { describe, expect, it } from 'vitest';
import { synthesizeHips } from '../../../src/workbench/synthesize/synthesize-hips.js';

/** `KOTYLE_SYNTHESIZE_COUNT` lengthens the run: 1,000,000 in `npm run test:long`. */
const COUNT = Number(process.env['KOTYLE_SYNTHESIZE_COUNT'] ?? 20_000);
const LOOKS = 10;
/** What may stay of a run, whatever its length: a few patients and what the engine has learned about the code. */
const MOST_GROWTH_BYTES = 8 * 1024 * 1024;

setFlagsFromString('--expose-gc');
const collectGarbage = runInNewContext('gc') as () => void;

function settledHeap(): number {
  collectGarbage();
  return process.memoryUsage().heapUsed;
}

describe(`${COUNT} hips`, () => {
  it(
    'are drawn one after another in flat memory',
    () => {
      const every = Math.floor(COUNT / LOOKS);
      const heaps: number[] = [];
      let characters = 0;
      for (const { bundle, truth } of synthesizeHips({ seed: 1, count: COUNT, profile: 'record-like' })) {
        characters += JSON.stringify(bundle).length;
        if (truth.index % every === every - 1) heaps.push(settledHeap());
      }
      const [first = NaN] = heaps;
      expect(heaps).toHaveLength(LOOKS);
      expect(characters / COUNT).toBeGreaterThan(2000);
      expect(Math.max(...heaps) - first).toBeLessThan(MOST_GROWTH_BYTES);
    },
    60_000 + COUNT,
  );
});

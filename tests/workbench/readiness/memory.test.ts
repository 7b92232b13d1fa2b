import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';
import { describe, expect, it } from 'vitest';
import { inputsFromBundle } from '../../../src/advice/hook-inputs.js';
import type { SampleMember } from '../../../src/workbench/readiness/sample-member.js';
import { readinessOf } from '../../../src/workbench/readiness/readiness.js';
import { synthesizeHips } from '../../../src/workbench/synthesize/synthesize-hips.js';
import { advisor } from '../../advice/patients.js';
import { settingWith } from './samples.js';

/** `KOTYLE_READINESS_COUNT` lengthens the run: 100,000 calls in the long form. */
const COUNT = Number(process.env['KOTYLE_READINESS_COUNT'] ?? 600);
const LOOKS = 6;
/** What may stay of a run, whatever its length: a few patients and what the engine has learned about the code. */
const MOST_GROWTH_BYTES = 16 * 1024 * 1024;

setFlagsFromString('--expose-gc');
const collectGarbage = runInNewContext('gc') as () => void;

function settledHeap(): number {
  collectGarbage();
  return process.memoryUsage().heapUsed;
}

/** Bookings, each of another hip, every tenth of which has a code nobody has seen before. */
function* bookings(): Generator<SampleMember, void, undefined> {
  for (const { bundle, truth } of synthesizeHips({ seed: 1, count: COUNT, profile: 'record-like' })) {
    const odd = truth.index % 10 === 0 ? JSON.stringify(bundle).replace('M16', `X${truth.index}`) : undefined;
    const patient = odd === undefined ? bundle : (JSON.parse(odd) as typeof bundle);
    const inputs = inputsFromBundle(patient, ['appointment-book'], settingWith());
    yield { where: 'a line', form: 'bundle', inputs };
  }
}

describe(`a sample of ${COUNT} calls`, () => {
  it(
    'is read in flat memory',
    async () => {
      const every = Math.floor(COUNT / LOOKS);
      const heaps: number[] = [];
      const result = await readinessOf(bookings(), {
        setting: settingWith(),
        advisor,
        over: 'synthetic hips',
        hazards: [],
        timed: { elapsedMs: () => performance.now(), machine: 'this one' },
        onMember: (done) => {
          if (done % every === 0) heaps.push(settledHeap());
        },
      });
      expect(result.sample.members).toBe(COUNT);
      expect(result.entries.find(({ hook }) => hook === 'appointment-book')?.recognised.yes).toBe(COUNT);
      const [, second = NaN, ...rest] = heaps;
      expect(rest.length).toBeGreaterThanOrEqual(LOOKS - 2);
      expect(Math.max(...rest) - second).toBeLessThan(MOST_GROWTH_BYTES);
    },
    120_000 + 20 * COUNT,
  );
});

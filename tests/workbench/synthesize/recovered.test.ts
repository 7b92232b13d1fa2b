import { describe, expect, it } from 'vitest';
import { POPULATION } from '../../../src/workbench/synthesize/population.js';
import type { Population } from '../../../src/workbench/synthesize/population-schema.js';
import { synthesizeTruths } from '../../../src/workbench/synthesize/synthesize-truths.js';
import { isRecovered, recoveries } from './recovery.js';

const draw = (count: number, population?: Population) => [
  ...synthesizeTruths({ seed: 20_261_124, count, ...(population && { population }) }),
];

// Truth: published, each figure with the 95 % interval of the people behind it (population.json names the record).
describe('100,000 drawn hips', () => {
  it('give back every cited prevalence, mean, spread, slope and correlation', () => {
    const all = recoveries(draw(100_000), POPULATION);
    expect(all.length).toBeGreaterThan(80);
    const missed = all
      .filter((one) => !isRecovered(one))
      .map(({ figure, found, allowed: [low, high] }) => `${figure}: ${found} outside ${low} to ${high}`);
    expect(missed).toEqual([]);
  }, 120_000);
});

describe('the comparison', () => {
  it('tells hips drawn from other numbers by the figures that were changed and what follows from them', () => {
    const { comorbidity, spine, femur, plan, operation } = POPULATION;
    const changed: Population = {
      ...POPULATION,
      operation: { ...operation, dysplasia: { ...operation.dysplasia, value: 0.05 } },
      comorbidity: { ...comorbidity, lumbarFusion: { ...comorbidity.lumbarFusion, value: 0.025 } },
      spine: {
        ...spine,
        // The line turned about its middle, so that the mean stays.
        tiltFromAge: { ...spine.tiltFromAge, value: 0.05 },
        tiltAtZero: { ...spine.tiltAtZero, value: spine.tiltAtZero.value + 0.09 * 66 },
        slopeLostWithLordosisLost: { ...spine.slopeLostWithLordosisLost, value: 0.3 },
      },
      femur: { ...femur, versionOfMen: { ...femur.versionOfMen, mean: 14 } },
      plan: { ...plan, anteriorApproach: { ...plan.anteriorApproach, value: 0.4 } },
    };
    const missed = recoveries(draw(20_000, changed), POPULATION)
      .filter((one) => !isRecovered(one))
      .map(({ figure }) => figure);
    expect(missed).toEqual([
      'dysplasia',
      'lumbar fusion',
      'tilt from age',
      'slope lost with lordosis lost',
      'version of men, mean',
      'retroverted femora',
      'anterior approaches',
    ]);
  }, 60_000);
});

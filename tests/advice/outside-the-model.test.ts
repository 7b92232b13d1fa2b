import { describe, expect, it } from 'vitest';
import { measure, quantity } from '../facts/records.js';
import { ask, mm, plan } from './signed.js';

/** Values that are possible and that a model beside the card is not made for. */

// Truth: clinical decisions §3: a cup outside every published range is a warning, whatever else is recorded of it.
describe('a cup at 60 degrees', () => {
  it.each([
    [
      'a wide chamfer on a small head',
      [mm('head-diameter', 22), mm('neck-diameter', 12), mm('rim-chamfer', 5)],
    ],
    ['a center far outside the rim of a small head', [mm('head-diameter', 22), mm('head-center-offset', 5)]],
    [
      'a neck-shaft angle at its plausible end',
      [mm('head-diameter', 36), measure('neck-shaft-angle', quantity(165, 'deg'))],
    ],
    ['a skirt nearly as thick as the head', [mm('head-diameter', 28), mm('skirt-diameter', 27.9)]],
  ])('keeps its warning beside %s', async (_what, more) => {
    const { outcome, card } = await ask('cup-inclination-outside-published', {
      measures: [...plan(60, 15, 15), ...more],
    });
    expect(outcome).toBe('fires');
    expect(card?.indicator).toBe('warning');
    expect(card?.detail).not.toMatch(/NaN|undefined|Infinity/);
  });
});

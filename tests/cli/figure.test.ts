import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { jumpDistanceFigure } from '../../src/cli/jump-distance-figure.js';

describe('the figure of the README', () => {
  it('is the one that the code draws today', () => {
    const file = new URL('../../fixtures/figures/jump-distance.svg', import.meta.url);
    expect(readFileSync(file, 'utf8')).toBe(jumpDistanceFigure());
  });

  it('puts a 36 mm head at 60° and a 22 mm head at 40° level, at 9.3 mm', () => {
    // Closed form 2R sin((90 - inclination) / 2), typed again; Sariali 2009, 10.3109/17453670902988378.
    const jump = (head: number, inclination: number): number =>
      head * Math.sin((((90 - inclination) / 2) * Math.PI) / 180);
    expect(Math.abs(jump(36, 60) - jump(22, 40))).toBeLessThan(0.05);
    expect(jumpDistanceFigure()).toContain('36 mm at 60°: 9.3 mm');
    expect(jumpDistanceFigure()).toContain('22 mm at 40°: 9.3 mm');
  });
});

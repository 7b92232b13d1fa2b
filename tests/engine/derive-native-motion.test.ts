import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { deriveFacts } from '../../src/engine/derive.js';
import type { Fact } from '../../src/facts/fact.js';
import { intervalOf } from '../facts/records.js';
import { shipped } from '../rulebook/shipped.js';
import { factMap, number, unknown } from './facts.js';

const PARTS = ['native-flexion', 'native-adduction', 'native-internal-rotation'] as const;

function sumOf(...facts: readonly Fact[]): Fact {
  const derived = deriveFacts(factMap(...facts), 'planned', shipped.knowledge);
  return derived.get('native-motion-sum') ?? unknown('native-motion-sum');
}

describe('the sum of a hip’s motion before surgery', () => {
  it('is flexion, adduction and internal rotation added', () => {
    // Truth: closed form; clinical decisions §7: the three of a supple hip reach 115 degrees.
    const [flexion, adduction, rotation] = PARTS;
    expect(intervalOf(sumOf(number(flexion, 90), number(adduction, 15), number(rotation, 10)))).toEqual([
      115, 115,
    ]);
    expect(intervalOf(sumOf(number(flexion, 80), number(adduction, -10), number(rotation, -20)))).toEqual([
      50, 50,
    ]);
  });

  it('of ranges is a range whose ends are the sums of theirs, open where one is open', () => {
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.integer({ min: -40, max: 160 }), fc.nat(40)), { minLength: 3, maxLength: 3 }),
        (spans) => {
          const facts = spans.map(([low, width], index) => number(PARTS[index] ?? '', [low, low + width]));
          const low = spans.reduce((sum, [start]) => sum + start, 0);
          const width = spans.reduce((sum, [, more]) => sum + more, 0);
          expect(intervalOf(sumOf(...facts))).toEqual([low, low + width]);
        },
      ),
    );
    const [flexion, adduction, rotation] = PARTS;
    const open = sumOf(number(flexion, [100, Infinity]), number(adduction, 20), number(rotation, 10));
    expect(intervalOf(open)).toEqual([130, Infinity]);
    expect(open.narrowedBy).toEqual([...PARTS].sort());
  });

  it.each(PARTS)('is not known without %s, and names it', (missing) => {
    const rest = PARTS.filter((part) => part !== missing).map((part) => number(part, 30));
    expect(sumOf(...rest).state).toMatchObject({
      status: 'unknown',
      reason: 'input-missing',
      needs: [missing],
    });
  });

  it('is not recorded where nothing of it is', () => {
    expect(sumOf().state).toMatchObject({
      status: 'unknown',
      reason: 'not-recorded',
      needs: [...PARTS].sort(),
    });
  });
});

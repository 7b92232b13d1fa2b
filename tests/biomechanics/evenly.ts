import fc from 'fast-check';

/** Steps between the bounds: about a millionth of a degree over a half turn. */
const STEPS = 2 ** 28;

/**
 * Numbers spread evenly between two bounds. `fc.double` spreads over the doubles themselves, of which half lie within
 * 1e-154 of 0: angles around 0 would hardly ever be ones a hip has.
 */
export function evenly(min: number, max: number): fc.Arbitrary<number> {
  return fc.noBias(fc.integer({ min: 0, max: STEPS })).map((step) => min + ((max - min) * step) / STEPS);
}

/** Numerator and denominator of a rational approximation, the constant term first. */
interface Rational {
  readonly over: readonly number[];
  readonly under: readonly number[];
}

/** Where |p - 0.5| is at most 0.425, in 0.425^2 - (p - 0.5)^2. */
const CENTRAL: Rational = {
  over: [
    3.3871328727963665, 133.14166789178438, 1971.5909503065513, 13731.69376550946, 45921.95393154987,
    67265.7709270087, 33430.57558358813, 2509.0809287301227,
  ],
  under: [
    1, 42.31333070160091, 687.1870074920579, 5394.196021424751, 21213.794301586597, 39307.89580009271,
    28729.085735721943, 5226.495278852854,
  ],
};

/** In sqrt(-log p) - 1.6, p the smaller tail. */
const TAIL: Rational = {
  over: [
    1.4234371107496835, 4.630337846156546, 5.769497221460691, 3.6478483247632045, 1.2704582524523684,
    0.2417807251774506, 0.022723844989269184, 0.0007745450142783414,
  ],
  under: [
    1, 2.053191626637759, 1.6763848301838038, 0.6897673349851, 0.14810397642748008, 0.015198666563616457,
    0.0005475938084995345, 1.0507500716444169e-9,
  ],
};

/** In sqrt(-log p) - 5. */
const FAR_TAIL: Rational = {
  over: [
    6.657904643501103, 5.463784911164114, 1.7848265399172913, 0.29656057182850487, 0.026532189526576124,
    0.0012426609473880784, 0.000027115555687434876, 2.0103343992922881e-7,
  ],
  under: [
    1, 0.599832206555888, 0.1369298809227358, 0.014875361290850615, 0.0007868691311456133,
    0.000018463183175100548, 1.421511758316446e-7, 2.0442631033899397e-15,
  ],
};

/** Half width of the middle, where one rational function of q^2 serves. */
const MIDDLE = 0.425;
/** Beyond this sqrt(-log p) the far tail begins: p below 1.4e-11. */
const FAR = 5;

function polynomial(coefficients: readonly number[], x: number): number {
  return coefficients.reduceRight((sum, coefficient) => sum * x + coefficient, 0);
}

function evaluate({ over, under }: Rational, x: number): number {
  return polynomial(over, x) / polynomial(under, x);
}

/**
 * Quantile of the standard normal distribution: the z below which the share p of it lies.
 *
 * Frame: none.
 * Units: a probability in; standard deviations out.
 * Domain: p in (0, 1); RangeError outside.
 * Method: algorithm AS 241, routine PPND16 (M. J. Wichura, Applied Statistics 1988; 37: 477-484): three rational
 * approximations, accurate to about 1 part in 10^16.
 * Source: ours; the algorithm and its coefficients are published, its listing was read in copies of the routine.
 * Checked: printed tables of the distribution function and a separate implementation in
 * tests/biomechanics/placement/normal-quantile.test.ts.
 * Limits: near 1 the result is as good as the distance 1 - p is held in a double.
 *
 * @example
 * normalQuantile(0.975)
 * //=> 1.959963984540054 (rounded)
 */
export function normalQuantile(p: number): number {
  if (!(p > 0 && p < 1)) throw new RangeError(`a probability must lie in (0, 1), got ${p}`);
  const q = p - 0.5;
  if (Math.abs(q) <= MIDDLE) return q * evaluate(CENTRAL, MIDDLE * MIDDLE - q * q);
  const depth = Math.sqrt(-Math.log(q < 0 ? p : 1 - p));
  const size = depth <= FAR ? evaluate(TAIL, depth - 1.6) : evaluate(FAR_TAIL, depth - FAR);
  return q < 0 ? -size : size;
}

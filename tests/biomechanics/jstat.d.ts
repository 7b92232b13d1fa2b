/** The few functions of jstat the tests use; the package brings no types. */
declare module 'jstat' {
  interface Statistics {
    readonly normal: {
      cdf(x: number, mean: number, deviation: number): number;
      inv(p: number, mean: number, deviation: number): number;
    };
    readonly studentt: { inv(p: number, degreesOfFreedom: number): number };
    readonly beta: { inv(p: number, alpha: number, beta: number): number };
    readonly chisquare: { cdf(x: number, degreesOfFreedom: number): number };
  }
  const jstat: Statistics;
  export = jstat;
}

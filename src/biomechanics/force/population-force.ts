/** What instrumented hips measured and what the model says of the same hips, in one unit. */
export interface MeasuredForce {
  readonly mean: number;
  /** Standard deviation between people. */
  readonly sd: number;
  /** Mean of the model over the hips that were measured. */
  readonly modelMean: number;
}

/** A force as a group of people has it. */
export interface PopulationForce {
  readonly mean: number;
  readonly sd: number;
  /** One standard deviation below and above the mean. */
  readonly low: number;
  readonly high: number;
}

/**
 * Joint force of people with a given hip, from the model and from what was measured in instrumented hips.
 *
 * Frame: none.
 * Units: one unit of force for all (percent of body weight, body weights or newtons).
 * Domain: mean, model mean and prediction positive, standard deviation not negative; RangeError outside.
 * Method: measured mean x prediction / model mean, so that the model's average error cancels; the standard deviation grows in
 * the same proportion.
 * Source: ours; a proportion.
 * Checked: ten instrumented hips in tests/biomechanics/force/hip-force-measured.test.ts.
 * Limits: says what a plan does to a group. For one person the model adds nothing to the measured mean: over those ten hips
 * it lies further from the measured force than their plain mean does.
 *
 * @example
 * populationForce({ mean: 261, sd: 29, modelMean: 286 }, 301)
 * //=> mean 274.7, sd 30.5, low 244.2, high 305.2 (rounded)
 */
export function populationForce({ mean, sd, modelMean }: MeasuredForce, prediction: number): PopulationForce {
  for (const [name, value] of Object.entries({ mean, 'model mean': modelMean, prediction })) {
    if (!(value > 0)) throw new RangeError(`${name} must be positive, got ${value}`);
  }
  if (!(sd >= 0)) throw new RangeError(`standard deviation must not be negative, got ${sd}`);
  const ratio = prediction / modelMean;
  return { mean: mean * ratio, sd: sd * ratio, low: (mean - sd) * ratio, high: (mean + sd) * ratio };
}

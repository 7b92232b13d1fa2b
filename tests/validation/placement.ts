import jstat from 'jstat';
import {
  placementTolerance,
  type Placement,
  type PlacementTolerance,
} from '../../src/biomechanics/placement/placement-tolerance.js';
import { placementToleranceOfPoses } from '../../src/biomechanics/placement/placement-tolerance-of-poses.js';
import { oscillation } from '../biomechanics/oscillation.js';
import { countReached } from '../biomechanics/plain-sampling.js';
import { NECK, PLANNED } from '../biomechanics/planned-placement.js';
import { fixed, printed, value } from './reference.js';
import type { Row } from './row.js';
import type { Section } from './section.js';

const POINTS = 200_000;
const HEADS = [28, 36] as const;

/** Distances from the plan in standard deviations. */
function deviations({
  inclination,
  anteversion,
  stemAnteversion,
}: Placement): readonly [number, number, number] {
  const { plan, scatter } = PLANNED;
  return [
    (inclination - plan.inclination) / scatter.inclination,
    (anteversion - plan.anteversion) / scatter.anteversion,
    (stemAnteversion - plan.stemAnteversion) / scatter.stemAnteversion,
  ];
}

function row(what: string, truth: number, ours: PlacementTolerance, source: string): Row {
  const half = (ours.high - ours.low) / 2;
  return {
    what,
    unit: '1',
    reference: {
      ...printed(truth, { origin: 'derived', decimals: 4 }),
      tolerance: { by: half, kind: 'ours', from: `half of our 95 % interval, ${fixed(half, 4)}` },
    },
    ours: value(ours.share),
    decimals: 4,
    source,
    read: 'derived here',
  };
}

/** Questions whose share is known exactly. */
function closedForms(): readonly Row[] {
  const { plan, scatter, seed } = PLANNED;
  const ask = (reaches: (placed: Placement) => boolean): PlacementTolerance =>
    placementTolerance({ plan, scatter, seed, reaches });
  const within1 = 2 * jstat.normal.cdf(1, 0, 1) - 1;
  return [
    row(
      'share of placements within one standard deviation of each of three angles',
      within1 ** 3,
      ask((placed) => deviations(placed).every((one) => Math.abs(one) < 1)),
      'closed form: normal distribution',
    ),
    row(
      'share of placements within two standard deviations in all, as a distance',
      jstat.chisquare.cdf(4, 3),
      ask((placed) => Math.hypot(...deviations(placed)) < 2),
      'closed form: chi-squared distribution, 3 degrees of freedom',
    ),
  ];
}

/** The poses of the rulebook, beside plain sampling that shares no code with the library. */
function fourPoses(): readonly Row[] {
  const counts = countReached(
    { ...PLANNED, seed: 20_260_101, size: POINTS },
    HEADS.map((head) => NECK / head),
  );
  const { plan, scatter } = PLANNED;
  return HEADS.map((head, index) => {
    const ours = placementToleranceOfPoses({ ...PLANNED, oscillationAngle: oscillation(head, NECK) });
    const share = (counts[index] ?? NaN) / POINTS;
    const error = Math.sqrt((share * (1 - share)) / POINTS);
    return {
      ...row(
        `share of placements that reach four poses; plan ${plan.inclination}/${plan.anteversion}, stem ${plan.stemAnteversion}, scatter ${scatter.inclination}, ${scatter.anteversion} and ${scatter.stemAnteversion}, head ${head}, neck ${NECK} mm`,
        share,
        ours,
        `plain sampling of ${POINTS} placements by other code`,
      ),
      remark: `The sample's own standard error is ${fixed(error, 4)}; the tests hold four million placements and a hundred seeds.`,
    };
  });
}

export function placement(): Section {
  return {
    title: 'Placement tolerance',
    paragraphs: [
      'A share of simulated placements: cup inclination, cup anteversion and stem anteversion scatter normally about the plan, and it is counted how often every asked pose is reached before contact. It is not a chance of staying stable: a freehand 28 mm head reaches the four poses in about half of the placements, and far fewer hips dislocate. Only differences between plans mean anything. The scatter is an input. No published share was found; the references are closed forms and another program, for one seed.',
    ],
    rows: [...closedForms(), ...fourPoses()],
  };
}

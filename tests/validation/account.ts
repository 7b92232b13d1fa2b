import { degrees } from '../../src/base/units.js';
import {
  radiographicToAnatomic,
  radiographicToOperative,
} from '../../src/biomechanics/orientation/cup-orientation.js';
import { poseInPelvis } from '../../src/biomechanics/motion/pose.js';
import { femurVector } from '../../src/biomechanics/vector.js';
import { radiographicCup } from '../biomechanics/tilted-cup.js';
import { fixed } from './reference.js';

function landmarkCup(): string {
  const cup = radiographicCup(40, 15);
  const text = ({ inclination, anteversion }: { inclination: number; anteversion: number }): string =>
    `${fixed(inclination, 2)}/${fixed(anteversion, 2)}`;
  return `40/15 radiographic is ${text(radiographicToOperative(cup))} operative and ${text(radiographicToAnatomic(cup))} anatomic`;
}

function landmarkPose(): string {
  const pose = { flexion: degrees(0), abduction: degrees(0), externalRotation: degrees(40) };
  const toes = poseInPelvis(pose, femurVector(1, 0, 0));
  return `(${toes.map((part) => fixed(part, 2)).join(', ')})`;
}

/** What a reader from the field must know before the first number. */
export function account(): string {
  return `# Where the mechanics agree with the literature, and where they do not

Every number in the tables is computed: published values are read from the copied evidence in \`tests/published/evidence/\`, ours from the library in \`src/biomechanics/\`. The page is written by \`npm run validation\`, and a test fails when it is stale. Disagreements come first and stay; where a number was chosen to fit, the remark says so and the row counts as guessed. Published values that were known and have no row stand at the end, with the reason.

## Conventions

- **Units.** Degrees and millimeters; forces in body weights where nothing else is said.
- **Pelvis frame.** X anterior, Y cranial, Z lateral to the operated side: right-handed on a right hip; a left hip is mirrored once, on entry. Origin in the head center.
- **Cup.** The direction its opening faces. Radiographic, operative and anatomic inclination and anteversion are three pairs of angles of that one axis: ${landmarkCup()}. Angles are radiographic where nothing is said.
- **Stem.** The neck axis runs from head center to neck base; neck-shaft angle against the shaft, version against the frontal plane of the femur.
- **Motion.** The femur is turned in the pelvis by flexion about the pelvic transverse axis, then abduction about the floating axis, then rotation about the shaft: Rz(flexion) Rx(-abduction) Ry(-external rotation). Flexion, abduction and external rotation are positive; after 40 degrees of external rotation the toes point along ${landmarkPose()}. Axes and sequence are those of the joint coordinate system recommended for the hip (from memory), which counts adduction and internal rotation positive.
- **Tilt** of the pelvis is anterior positive. Papers that count posterior tilt positive are turned round on reading.
- **Oscillation angle.** The full angle the neck sweeps from rim to rim in a plane through the cup axis. A margin is half of it less the angle between cup axis and posed neck axis.
- **Rim.** Azimuth 0 cranial, 90 anterior, 180 caudal, 270 posterior.

## What the model is, and what it is not

It is rigid geometry about one fixed center. Neck and rim are solids that turn about the head center until they touch; bone is a generic scene of spheres; force is the statics of one abductor in the frontal plane; wear is a straight line; film readings are projections of a circle.

It has no capsule, no muscle tone, no soft tissue, no levering out and no friction; the head does not leave the center. Contact is not dislocation, and a jump distance is geometry, not resistance. It takes a pelvis as tilted about one axis. It says nothing of the range of a person.

## How to read the tables

- **Published** is a figure printed in a source, or a plain mean or difference of printed figures. **(same equation)** marks a figure that its authors worked out with the equation used here: it is not counted as published. **(derived)** marks a value worked out when the evidence was gathered, from published definitions or inputs; no printed result was seen, so agreement holds the code and not the model. **(recalled)** is from memory.
- **Difference** is ours less the published value. Beside a range it is how far ours sticks out, beside a bound how far from the bound; where ours is a range, the distance to its nearer end.
- **Agreement** is worked out from the numbers. Three verdicts count as agreement: *to printed precision* is within half of the last printed digit; *within printed range or its rounding* is wholly inside a printed range, with nothing added to its ends, or within the rounding of several printed figures taken together; *meets bound or sign* is the weakest.
- **No agreement, and no disagreement either:** *inside our range over guessed inputs*, where ours was spread by guesses until the published value lay in it to half of its last digit; *within the spread about a mean only*, where two means differ by less than persons or positions do, which a poor model passes too; *within a tolerance of ours*, set by this project or by its own sampling. Everything else disagrees.
- **By construction** are agreements of the generic bone, whose numbers were chosen with the published signs in view. They are counted apart.
- **How far read** is how far the source of the published value was read. Many are abstracts, and details of method are then unknown. What was guessed to fill them in stands in the remark, and agreement after a guess is worth little: a grid that meets four coefficients is likely, not known.
- Sources are given as far as known; what is missing was not known and is not guessed.
`;
}

/**
 * Speed of the mechanics beside a straightforward version of the same question on three's Vector3 and Matrix4, and
 * beside collision of meshes. Prints ratios; asserts nothing. Both versions answer the same cells, and the bench stops
 * when their answers differ.
 */
import { Matrix4, Vector3 } from 'three';
import { degrees } from '../../src/base/units.js';
import { orientationMap, type OrientationMap } from '../../src/biomechanics/range/orientation-map.js';
import { placementToleranceOfPoses } from '../../src/biomechanics/placement/placement-tolerance-of-poses.js';
import type { NamedPose } from '../../src/biomechanics/motion/pose.js';
import { MOTION_DIRECTIONS } from '../../src/biomechanics/motion/motion-direction.js';
import { readyHip } from '../../src/biomechanics/range/prosthetic-margin.js';
import { motionEnd, rangeOfMotion } from '../../src/biomechanics/range/range-of-motion.js';
import { meshEnd, meshHip } from '../biomechanics/mesh-contact.js';
import { lip, replaced, TEXTBOOK } from '../biomechanics/replaced-hip.js';

const RADIANS = Math.PI / 180;
const ROUNDS = 15;

/** Twenty poses spread over what a hip does. */
const POSES: readonly NamedPose[] = Array.from({ length: 20 }, (_, index) => ({
  name: `pose ${index}`,
  flexion: degrees(-30 + index * 7),
  abduction: degrees((index % 5) * 8 - 16),
  externalRotation: degrees((index % 7) * 10 - 30),
}));

const AXES = {
  inclination: { from: degrees(25), to: degrees(55), step: degrees(0.5) },
  anteversion: { from: degrees(5), to: degrees(35), step: degrees(0.5) },
} as const;

const LINERS = {
  'flat rim': {},
  'lip, closed form': { liner: { elevation: lip('on-sphere', 225) } },
  'lip with ramps, searched': { liner: { elevation: lip('on-sphere', 225, 20) } },
} as const;

function median(times: readonly number[]): number {
  return [...times].sort((a, b) => a - b)[Math.floor(times.length / 2)] ?? NaN;
}

function timed(work: () => unknown): number {
  work();
  return median(
    Array.from({ length: ROUNDS }, () => {
      const start = performance.now();
      work();
      return performance.now() - start;
    }),
  );
}

function mapOf(more: Parameters<typeof replaced>[1]): OrientationMap {
  const { liner, stem, neck } = replaced(TEXTBOOK, more);
  return orientationMap({ hip: { liner, stem, neck }, ...AXES, poses: POSES });
}

/** The worst margin of one orientation, pose by pose, as one would first write it down. */
function straightforwardMargin(
  inclination: number,
  anteversion: number,
  half: (azimuth: number) => number,
  stem = TEXTBOOK.stem,
): number {
  const [ri, ra] = [inclination * RADIANS, anteversion * RADIANS];
  const cup = new Vector3(Math.sin(ra), -Math.cos(ra) * Math.cos(ri), Math.cos(ra) * Math.sin(ri));
  const anterior = new Vector3(0, 1, 0).cross(cup).normalize();
  const cranial = new Vector3().crossVectors(cup, anterior);
  const drop = (TEXTBOOK.neckShaft - 90) * RADIANS;
  const at = stem * RADIANS;
  let worst = Infinity;
  for (const { flexion, abduction, externalRotation } of POSES) {
    const pose = new Matrix4()
      .makeRotationZ(flexion * RADIANS)
      .multiply(new Matrix4().makeRotationX(0 - abduction * RADIANS))
      .multiply(new Matrix4().makeRotationY(0 - externalRotation * RADIANS));
    const neck = new Vector3(
      -Math.sin(at) * Math.cos(drop),
      -Math.sin(drop),
      Math.cos(at) * Math.cos(drop),
    ).applyMatrix4(pose);
    const azimuth = Math.atan2(neck.dot(anterior), neck.dot(cranial));
    worst = Math.min(worst, half(azimuth) - neck.angleTo(cup) / RADIANS);
  }
  return worst;
}

const EVEN = Math.acos(TEXTBOOK.neck / TEXTBOOK.head) / RADIANS;

/** Half oscillation toward an azimuth by leaning the neck until it meets one of 180 points of the raised rim. */
function straightforwardHalf(ramp: number): (azimuth: number) => number {
  const cap = Math.asin(TEXTBOOK.neck / TEXTBOOK.head);
  const rim = Array.from({ length: 180 }, (_, index) => {
    const azimuth = index * 2;
    const away = Math.abs(((azimuth - 225 + 540) % 360) - 180);
    const share = Math.max(0, Math.min(1, 1 - (away - 45) / Math.max(ramp, 1e-9)));
    const polar = (90 - 15 * share) * RADIANS;
    const around = azimuth * RADIANS;
    return new Vector3(
      Math.sin(polar) * Math.cos(around),
      Math.cos(polar),
      Math.sin(polar) * Math.sin(around),
    );
  });
  const touches = (lean: number, azimuth: number): boolean => {
    const neck = new Vector3(
      Math.sin(lean) * Math.cos(azimuth),
      Math.cos(lean),
      Math.sin(lean) * Math.sin(azimuth),
    );
    return rim.some((point) => neck.angleTo(point) <= cap);
  };
  return (azimuth) => {
    let [free, touching] = [0, Math.PI / 2];
    while (touching - free > 1e-6) {
      const middle = (free + touching) / 2;
      if (touches(middle, azimuth)) touching = middle;
      else free = middle;
    }
    return touching / RADIANS;
  };
}

/** Times the straightforward version on every n-th cell and checks its answers; milliseconds for the whole map. */
function straightforwardMap(
  map: OrientationMap,
  half: (azimuth: number) => number,
  every: number,
  within: number,
): number {
  const columns = map.anteversions.length;
  const cells = [...map.margins.keys()].filter((index) => index % every === 0);
  const work = (): void => {
    for (const index of cells) {
      const margin = straightforwardMargin(
        map.inclinations[Math.floor(index / columns)] ?? NaN,
        map.anteversions[index % columns] ?? NaN,
        half,
      );
      if (!(Math.abs(margin - (map.margins[index] ?? NaN)) <= within)) {
        throw new Error(`cell ${index}: ${margin} against ${map.margins[index]}`);
      }
    }
  };
  return (timed(work) * map.margins.length) / cells.length;
}

const SIMULATION = {
  plan: { inclination: degrees(40), anteversion: degrees(20), stemAnteversion: degrees(15) },
  scatter: { inclination: degrees(6.7), anteversion: degrees(8.1), stemAnteversion: degrees(7.4) },
  seed: 1,
  neckShaftAngle: degrees(TEXTBOOK.neckShaft),
  oscillationAngle: degrees(2 * EVEN),
  poses: POSES,
};

/** The same share by plain sampling: 10,000 placements by Box and Muller from a small generator of whole numbers. */
function straightforwardScatter(): number {
  let state = 1;
  const uniform = (): number => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return (state + 0.5) / 4_294_967_296;
  };
  const normal = (): number => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
  const { plan, scatter } = SIMULATION;
  let reached = 0;
  for (let index = 0; index < 10_000; index += 1) {
    const margin = straightforwardMargin(
      plan.inclination + scatter.inclination * normal(),
      plan.anteversion + scatter.anteversion * normal(),
      () => EVEN,
      plan.stemAnteversion + scatter.stemAnteversion * normal(),
    );
    if (margin >= 0) reached += 1;
  }
  return reached / 10_000;
}

function print(question: string, ours: number, theirs: number): void {
  process.stdout.write(
    `${question.padEnd(58)} ${ours.toFixed(1).padStart(8)} ms ${theirs.toFixed(0).padStart(9)} ms ${(theirs / ours).toFixed(1).padStart(8)} x\n`,
  );
}

process.stdout.write(
  `${''.padEnd(58)} ${'ours'.padStart(11)} ${'straight'.padStart(12)} ${'ratio'.padStart(10)}\n`,
);
const flat = mapOf(LINERS['flat rim']);
print(
  'map 61 x 61 x 20 poses, flat rim',
  timed(() => mapOf(LINERS['flat rim'])),
  straightforwardMap(flat, () => EVEN, 1, 1e-9),
);
for (const [name, ramp] of [
  ['lip, closed form', 0],
  ['lip with ramps, searched', 20],
] as const) {
  const map = mapOf(LINERS[name]);
  // 180 rim points stand up to a degree from the nearest true one: margins agree to half a degree.
  print(
    `map 61 x 61 x 20 poses, ${name}`,
    timed(() => mapOf(LINERS[name])),
    straightforwardMap(map, straightforwardHalf(ramp), 61, 0.5),
  );
}
const shares = [placementToleranceOfPoses(SIMULATION).share, straightforwardScatter()] as const;
// Plain sampling of 10,000 is good to about half a percent.
if (!(Math.abs(shares[0] - shares[1]) <= 0.02)) throw new Error(`shares ${shares.join(' and ')}`);
print(
  'scatter 10,000 x 20 poses, flat rim',
  timed(() => placementToleranceOfPoses(SIMULATION)),
  timed(straightforwardScatter),
);
/** All seven motions of one hip until contact: analytic, and by colliding meshes of 512 segments and more. */
function meshRatio(name: string, more: Parameters<typeof replaced>[1]): void {
  const hip = replaced(TEXTBOOK, more);
  const ready = readyHip(hip);
  const meshes = meshHip(hip);
  const ours = timed(() => rangeOfMotion(ready));
  const start = performance.now();
  const ends = MOTION_DIRECTIONS.map((direction) => [direction, meshEnd(meshes, direction)] as const);
  const elapsed = performance.now() - start;
  for (const [direction, end] of ends) {
    const own = motionEnd(ready, direction);
    const same =
      own.kind === 'contact' && end.kind === 'contact'
        ? Math.abs(own.at - end.at) <= 0.05
        : own.kind === end.kind;
    if (!same) throw new Error(`${name}, ${direction}: ${JSON.stringify([own, end])}`);
  }
  print(`seven motions to contact against meshes, ${name}`, ours, elapsed);
}

meshRatio('flat rim', {});
meshRatio('lip with ramps', LINERS['lip with ramps, searched']);

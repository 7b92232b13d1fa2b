import { roundForUnit } from '../../src/base/rounding.js';
import { degrees, millimetres } from '../../src/base/units.js';
import { bonyRange } from '../../src/biomechanics/bone/bony-contact.js';
import { GENERIC_BONE } from '../../src/biomechanics/bone/generic-bone-shape.js';
import { placeBone } from '../../src/biomechanics/bone/generic-bone.js';
import { singleLegStance } from '../../src/biomechanics/force/hip-force.js';
import { MOTION_DIRECTIONS, poseAlong } from '../../src/biomechanics/motion/motion-direction.js';
import { cupAxis } from '../../src/biomechanics/orientation/cup-orientation.js';
import { projectedRim } from '../../src/biomechanics/orientation/rim-projection.js';
import { placementToleranceOfPoses } from '../../src/biomechanics/placement/placement-tolerance-of-poses.js';
import { orientationMap } from '../../src/biomechanics/range/orientation-map.js';
import { prostheticMargin } from '../../src/biomechanics/range/prosthetic-margin.js';
import { rangeOfMotion } from '../../src/biomechanics/range/range-of-motion.js';
import {
  directionalJumpDistance,
  ESCAPES,
  UPWARD_LOAD,
} from '../../src/biomechanics/stability/directional-jump-distance.js';
import { tension } from '../../src/biomechanics/tension/tension.js';
import { arcLostToWear } from '../../src/biomechanics/wear/arc-lost-to-wear.js';
import { wearVolume } from '../../src/biomechanics/wear/wear-volume.js';
import { lip, liner, ready, replaced, TEXTBOOK } from '../biomechanics/replaced-hip.js';

const DESIGNS: readonly Parameters<typeof replaced>[1][] = [
  {},
  { liner: { elevation: lip('on-sphere', 225) } },
  { liner: { elevation: lip('straight-wall', 225, 20) } },
  { liner: { faceTurn: { angle: degrees(12), toward: degrees(90) } } },
  { liner: { chamfer: { depth: millimetres(1), angle: degrees(45) } }, neck: { flats: millimetres(9) } },
  { liner: { opening: degrees(155) } },
];

const rounded = (value: number): number => roundForUnit(value, 'deg');

const PLAN = { inclination: degrees(40), anteversion: degrees(20), stemAnteversion: degrees(15) };
const SCATTER = { inclination: degrees(6.7), anteversion: degrees(8.1), stemAnteversion: degrees(7.4) };
/** Numbers from every part of the mechanics, rounded once, as facts are. */
export function mechanicsSample(): unknown {
  return { designs: DESIGNS.map(designSample), ...partsSample() };
}

function designSample(more: Parameters<typeof replaced>[1]): unknown {
  const { liner, stem, neck } = replaced(TEXTBOOK, more);
  const hip = ready(TEXTBOOK, more);
  const map = orientationMap({
    hip: { liner, stem, neck },
    inclination: { from: degrees(25), to: degrees(55), step: degrees(3) },
    anteversion: { from: degrees(0), to: degrees(40), step: degrees(3) },
    poses: [
      { name: 'flexion', ...poseAlong('flexion', degrees(110)) },
      { name: 'extension', ...poseAlong('extension', degrees(30)) },
      { name: 'internal rotation at 90', ...poseAlong('internal-rotation-at-90', degrees(30)) },
      { name: 'external rotation', ...poseAlong('external-rotation', degrees(40)) },
    ],
  });
  return {
    range: Object.entries(rangeOfMotion(hip)).map(([direction, end]) => [
      direction,
      end.kind,
      end.kind === 'contact' ? rounded(end.at) : null,
    ]),
    margin: rounded(prostheticMargin(hip, poseAlong('flexion', degrees(100))).margin),
    map: [...map.margins].map(rounded),
    limiting: [...map.limiting],
  };
}

function partsSample(): Readonly<Record<string, readonly number[]>> {
  const cup = replaced(TEXTBOOK).cup;
  const jumps = Object.values(ESCAPES).map((escape) =>
    directionalJumpDistance({
      cupAxis: cupAxis(cup),
      liner: liner(36, { elevation: lip('on-sphere', 225) }),
      load: UPWARD_LOAD,
      escape,
      penetration: millimetres(0),
    }),
  );
  const plan = tension({
    neck: {
      before: { anteversion: degrees(15), neckShaftAngle: degrees(135) },
      lengthBefore: millimetres(40),
      lengthChange: millimetres(4),
      neckShaftAngleChange: degrees(-5),
      stemVersionChange: degrees(5),
    },
    stemSeating: millimetres(1),
    liner: { lateralization: millimetres(4), cup },
    centerMedialization: millimetres(3),
    centerElevation: millimetres(2),
    trochanter: { lateral: millimetres(0), distal: millimetres(0) },
  });
  const stance = singleLegStance({
    partialWeight: 0.8333,
    weightArm: millimetres(109.9),
    abductorArm: millimetres(40),
    abductorAngle: degrees(21),
  });
  const sunken = { head: millimetres(28), penetration: millimetres(2), angleToCupAxis: degrees(45) };
  const film = projectedRim(
    cup,
    {
      sourceDetectorDistance: millimetres(1000),
      hipHeight: millimetres(150),
      lateralOffset: millimetres(90),
      cranialOffset: millimetres(-40),
    },
    millimetres(25),
  );
  const scattered = placementToleranceOfPoses({
    plan: PLAN,
    scatter: SCATTER,
    seed: 7,
    neckShaftAngle: degrees(135),
    oscillationAngle: degrees(2 * (ready(TEXTBOOK).joint.evenHalf ?? NaN)),
    poses: [poseAlong('flexion', degrees(110)), poseAlong('external-rotation', degrees(40))],
  });
  const bone = placeBone(GENERIC_BONE.II, {
    femoralOffsetChange: millimetres(4),
    headHeightChange: millimetres(2),
    hipCenterMedial: millimetres(1),
    hipCenterCranial: millimetres(1),
    stemAnteversion: degrees(12),
  });
  const bony = MOTION_DIRECTIONS.map((direction) => bonyRange(bone, direction));
  return {
    jumps: jumps.map((jump) => (jump.kind === 'distance' ? rounded(jump.distance) : -1)),
    tension: [plan.femoralOffset, plan.legLength, plan.globalOffset, plan.anteriorShift].map(rounded),
    stance: [stance.abductor, stance.contact, stance.contactAngle].map(rounded),
    wear: [
      rounded(wearVolume(sunken)),
      rounded(arcLostToWear({ ...sunken, neck: millimetres(12), centerOffset: millimetres(0) })),
    ],
    film: [film.majorAxis, film.minorAxis, film.inclination].map(rounded),
    placement: [scattered.share, scattered.low, scattered.high].map(rounded),
    bone: bony.map((range) => (range.status === 'contact' ? rounded(range.angle) : 180)),
  };
}

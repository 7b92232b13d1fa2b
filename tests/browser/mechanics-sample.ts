import { roundForUnit } from '../../src/base/rounding.js';
import { degrees, millimetres } from '../../src/base/units.js';
import { orientationMap } from '../../src/biomechanics/orientation-map.js';
import { poseAlong } from '../../src/biomechanics/motion-direction.js';
import { prostheticMargin } from '../../src/biomechanics/prosthetic-margin.js';
import { rangeOfMotion } from '../../src/biomechanics/range-of-motion.js';
import { lip, ready, replaced, TEXTBOOK } from '../biomechanics/replaced-hip.js';

const DESIGNS: readonly Parameters<typeof replaced>[1][] = [
  {},
  { liner: { elevation: lip('on-sphere', 225) } },
  { liner: { elevation: lip('straight-wall', 225, 20) } },
  { liner: { faceTurn: { angle: degrees(12), toward: degrees(90) } } },
  { liner: { chamfer: { depth: millimetres(1), angle: degrees(45) } }, neck: { flats: millimetres(9) } },
  { liner: { opening: degrees(155) } },
];

const rounded = (value: number): number => roundForUnit(value, 'deg');

/** Numbers from every part of the mechanics that turns angles into other angles, rounded once, as facts are. */
export function mechanicsSample(): unknown {
  return DESIGNS.map((more) => {
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
  });
}

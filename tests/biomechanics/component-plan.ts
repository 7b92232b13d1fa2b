import { degrees, millimetres } from '../../src/base/units.js';
import type { ComponentChange } from '../../src/biomechanics/tension/tension.js';

/** What a plan changes, in plain numbers: millimetres and degrees. */
export interface PlanNumbers {
  readonly version?: number;
  readonly neckShaftAngle?: number;
  readonly neckLength?: number;
  readonly longer?: number;
  readonly varusBy?: number;
  readonly turnedBy?: number;
  readonly deeper?: number;
  readonly liner?: number;
  readonly medial?: number;
  readonly elevation?: number;
  readonly lateral?: number;
  readonly distal?: number;
}

/** A plan that changes only what is named. */
export function plan(change: PlanNumbers): ComponentChange {
  const { version = 15, neckShaftAngle = 135, neckLength, liner } = change;
  return {
    neck: {
      before: { anteversion: degrees(version), neckShaftAngle: degrees(neckShaftAngle) },
      ...(neckLength === undefined ? {} : { lengthBefore: millimetres(neckLength) }),
      lengthChange: millimetres(change.longer ?? 0),
      neckShaftAngleChange: degrees(-(change.varusBy ?? 0)),
      stemVersionChange: degrees(change.turnedBy ?? 0),
    },
    stemSeating: millimetres(change.deeper ?? 0),
    ...(liner === undefined
      ? {}
      : {
          liner: {
            lateralization: millimetres(liner),
            cup: { definition: 'radiographic', inclination: degrees(40), anteversion: degrees(15) },
          },
        }),
    centerMedialization: millimetres(change.medial ?? 0),
    centerElevation: millimetres(change.elevation ?? 0),
    trochanter: { lateral: millimetres(change.lateral ?? 0), distal: millimetres(change.distal ?? 0) },
  };
}

import { z } from 'zod';
import { degrees, millimetres } from '../../src/base/units.js';
import { singleLegStance, type StanceForce } from '../../src/biomechanics/force/hip-force.js';
import type { StandingLeg } from '../../src/biomechanics/force/leg-free-body.js';

/** The plane lever of plain numbers: share of body weight, millimetres, degrees. */
export function stance(share: number, weightArm: number, abductorArm: number, angle: number): StanceForce {
  return singleLegStance({
    partialWeight: share,
    weightArm: millimetres(weightArm),
    abductorArm: millimetres(abductorArm),
    abductorAngle: degrees(angle),
  });
}

/** Inputs of the records that treat the standing leg as a free body. */
export const LEG = z.object({
  N_BW: z.number(),
  wL_BW: z.number(),
  theta_deg: z.number(),
  xT_cm: z.number(),
  xF_cm: z.number(),
});

/** Leg center at 5/9 of the way from trochanter to foot, as in the records' formula. */
export function standingLeg(inputs: z.output<typeof LEG>, footCm = inputs.xF_cm): StandingLeg {
  return {
    groundReaction: inputs.N_BW,
    legWeight: inputs.wL_BW,
    pullAngle: degrees(inputs.theta_deg),
    trochanterLateral: millimetres(10 * inputs.xT_cm),
    footMedial: millimetres(10 * footCm),
    legCenterShare: 5 / 9,
  };
}

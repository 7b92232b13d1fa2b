import { degrees, millimetres } from '../base/units.js';
import type { Degrees } from '../base/units.js';
import { cupAxis } from '../biomechanics/orientation/cup-orientation.js';
import type { CupOrientation } from '../biomechanics/orientation/cup-orientation.js';
import { openingAxis } from '../biomechanics/range/liner.js';
import type { FaceTurn, Liner, RimElevation } from '../biomechanics/range/liner.js';
import type { Neck } from '../biomechanics/range/neck.js';
import type { StemOrientation } from '../biomechanics/motion/pose.js';
import type { LateralizedLiner } from '../biomechanics/tension/liner-shift.js';
import { sinDeg } from '../biomechanics/trigonometry.js';
import type { Vec3 } from '../biomechanics/vector.js';
import { need } from './computation.js';
import type { ComputationInputs } from './computation.js';

/*
 * Head, neck, liner and cup of a hip from the inputs of a computation. What was never stated is left out of the inputs:
 * a flat rim of 180 degrees without chamfer, a face that is not turned, a neck without skirt. Undefined where what was
 * stated has no such geometry: the result then is unknown, and never that of the usual liner.
 */

/** Breadth of the rim beyond bore or chamfer; the neck shows itself narrower there, so nothing here depends on it. */
const RIM_BREADTH = millimetres(5);

/** From here on a lip goes all round; the library's lips have two ends. */
const MOST_ARC = 359.999;

const WHOLE_TURN = 360;

/** The liner in which the head, or the mobile liner of a dual mobility bearing, turns. */
export function linerOf(inputs: ComputationInputs): Liner | undefined {
  const { values } = inputs;
  const bore = need(inputs, 'effective-head-diameter');
  const opening = values['rim-opening'] ?? 180;
  const offset = need(inputs, 'head-center-offset');
  const chamfer = values['rim-chamfer'] ?? 0;
  // Both say where the rim stands, and a chamfer on an opening below 180 degrees is not modelled.
  if ((opening !== 180 && offset !== 0) || (opening < 180 && chamfer > 0)) return undefined;
  const elevation = elevationOf(inputs);
  if (elevation && elevation.angle >= Math.min(60, opening / 2)) return undefined;
  return {
    bore: millimetres(bore),
    // An opening beyond 180 degrees is that of a center outside the opening plane.
    centerOffset: millimetres(opening > 180 ? (bore / 2) * sinDeg(degrees((opening - 180) / 2)) : offset),
    wall: RIM_BREADTH,
    opening: degrees(Math.min(180, opening)),
    ...(chamfer > 0 && {
      chamfer: { depth: millimetres(chamfer), angle: degrees(need(inputs, 'rim-chamfer-angle')) },
    }),
    ...(elevation && { elevation }),
    ...faceTurnOf(inputs),
  };
}

function elevationOf(inputs: ComputationInputs): RimElevation | undefined {
  const { values } = inputs;
  const angle = values['rim-elevation'] ?? 0;
  const arc = Math.min(MOST_ARC, values['liner-elevation-arc'] ?? 0);
  if (angle === 0 || arc === 0) return undefined;
  return {
    shape: 'on-sphere',
    angle: degrees(angle),
    arc: degrees(arc),
    azimuth: azimuthOf(values['liner-elevation-position'] ?? 0),
    ramp: degrees(0),
  };
}

/** Positions are counted from the most superior rim point toward posterior, azimuths toward anterior. */
function azimuthOf(position: number): Degrees {
  return degrees((WHOLE_TURN - position) % WHOLE_TURN);
}

function faceTurnOf(inputs: ComputationInputs): { readonly faceTurn?: FaceTurn } {
  const angle = inputs.values['rim-turn'] ?? 0;
  if (angle === 0) return {};
  return { faceTurn: { angle: degrees(angle), toward: azimuthOf(need(inputs, 'liner-face-direction')) } };
}

/** The neck with the skirt of its head; undefined for a skirt that is no thinner than what turns in the liner. */
export function neckOf(inputs: ComputationInputs): Neck | undefined {
  const bore = need(inputs, 'effective-head-diameter');
  const diameter = millimetres(need(inputs, 'neck-diameter'));
  const skirt = inputs.values['rim-skirt'] ?? 0;
  if (skirt >= bore) return undefined;
  if (skirt === 0) return { diameter };
  // A skirt of unstated length reaches past the rim.
  const length = inputs.values['rim-skirt-reach'] ?? 2 * bore;
  return { diameter, skirt: { diameter: millimetres(skirt), length: millimetres(length) } };
}

export function cupOf(inputs: ComputationInputs): CupOrientation<'radiographic'> {
  return {
    definition: 'radiographic',
    inclination: degrees(need(inputs, 'cup-inclination')),
    anteversion: degrees(need(inputs, 'cup-anteversion')),
  };
}

/** How the neck sits on the femur, at its own version or another; undefined where that is no stem's. */
export function stemOf(
  inputs: ComputationInputs,
  version = need(inputs, 'stem-anteversion-modelled'),
): StemOrientation | undefined {
  const neckShaftAngle = need(inputs, 'neck-shaft-angle');
  if (!(neckShaftAngle > 90 && neckShaftAngle < 180 && Math.abs(version) < 90)) return undefined;
  return { anteversion: degrees(version), neckShaftAngle: degrees(neckShaftAngle) };
}

/** Where the liner opens to: the turned face is the opening. Undefined when it would no longer open laterally. */
export function openingOf(inputs: ComputationInputs): Vec3<'pelvis'> | undefined {
  const { faceTurn } = faceTurnOf(inputs);
  const cup = cupOf(inputs);
  // Without a turn it opens where the cup does, which is lateral for every cup.
  if (!faceTurn) return cupAxis(cup);
  const opening = openingAxis(cupAxis(cup), faceTurn);
  return opening[2] > 0 ? opening : undefined;
}

/** A liner that the plan adds and that holds the center further out; undefined where none was stated. */
export function addedLiner(inputs: ComputationInputs): LateralizedLiner | undefined {
  const lateralization = inputs.values['liner-lateralization-added'] ?? 0;
  if (lateralization === 0) return undefined;
  return { lateralization: millimetres(lateralization), cup: cupOf(inputs) };
}

import { type Millimetres } from '../../base/units.js';
import { cupAxis, type CupDefinition, type CupOrientation } from '../orientation/cup-orientation.js';
import { pelvisVector, type Vec3 } from '../vector.js';

/** A liner that holds the center further out along the axis of its cup. */
export interface LateralizedLiner {
  readonly lateralization: Millimetres;
  readonly cup: CupOrientation<CupDefinition>;
}

/**
 * Where a lateralized liner moves the hip center, and the femur with it.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: millimetres and degrees in, a vector in millimetres out.
 * Domain: as `cupAxis`; RangeError outside. Outward is positive.
 * Method: lateralization x cup axis.
 * Source: ours; the geometry of the part.
 * Checked: closed forms in tests/biomechanics/tension/liner-shift.test.ts.
 * Limits: rim and head move together, so arc of motion and jump distance stay as they are.
 *
 * @example
 * linerShift({ lateralization: millimetres(4), cup: radiographic40And15 })
 * //=> [1.04, -2.96, 2.48] (mm, rounded): forward, down, out
 */
export function linerShift({ lateralization, cup }: LateralizedLiner): Vec3<'pelvis'> {
  const [x, y, z] = cupAxis(cup);
  return pelvisVector(lateralization * x, lateralization * y, lateralization * z);
}

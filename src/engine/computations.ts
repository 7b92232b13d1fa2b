import { degrees, millimetres } from '../base/units.js';
import { combinedAnteversion } from '../biomechanics/orientation/combined-anteversion.js';
import { cupAnteInclination } from '../biomechanics/orientation/cup-ante-inclination.js';
import type { CupOrientation } from '../biomechanics/orientation/cup-orientation.js';
import { functionalCupOrientation } from '../biomechanics/orientation/functional-cup.js';
import {
  projectedGlobalOffsetDifference,
  projectedLegLengthDiscrepancy,
} from '../biomechanics/tension/projected-differences.js';
import { combinedSagittalIndex } from '../biomechanics/spine/combined-sagittal-index.js';
import { pelvicTiltChange } from '../biomechanics/spine/pelvic-tilt-change.js';
import { pelvicIncidenceLordosisMismatch } from '../biomechanics/spine/spinopelvic.js';
import { BONE_COMPUTATIONS } from './bone-computations.js';
import { need } from './computation.js';
import type { ComputationInputs, ComputationTable } from './computation.js';
import { CONTACT_COMPUTATIONS } from './contact-computations.js';
import { FORCE_COMPUTATIONS } from './force-computations.js';
import { JUMP_COMPUTATIONS } from './jump-computations.js';
import { LINER_COMPUTATIONS } from './liner-computations.js';
import { PLACEMENT_COMPUTATIONS } from './placement-computations.js';
import { cupOf } from './recorded-geometry.js';
import { TENSION_COMPUTATIONS } from './tension-computations.js';
import { WEAR_COMPUTATIONS } from './wear-computations.js';

/** Every computation the engine offers. Units and inputs are declared in `rules/computations/`. */
export const COMPUTATIONS: ComputationTable = {
  ...CONTACT_COMPUTATIONS,
  ...JUMP_COMPUTATIONS,
  ...PLACEMENT_COMPUTATIONS,
  ...LINER_COMPUTATIONS,
  ...TENSION_COMPUTATIONS,
  ...FORCE_COMPUTATIONS,
  ...BONE_COMPUTATIONS,
  ...WEAR_COMPUTATIONS,
  // The sum is the same whichever definition the cup's angle is in; a rule that means another replaces that input.
  'combined-anteversion': (inputs) => ({
    value: combinedAnteversion(
      { definition: 'radiographic', anteversion: degrees(need(inputs, 'cup-anteversion')) },
      degrees(need(inputs, 'stem-anteversion-condylar')),
    ).sum,
  }),
  'functional-cup-inclination': (inputs) => ({ value: functionalCup(inputs).inclination }),
  'functional-cup-anteversion': (inputs) => ({ value: functionalCup(inputs).anteversion }),
  'cup-ante-inclination': (inputs) => ({ value: cupAnteInclination(functionalCup(inputs)) }),
  'combined-sagittal-index': (inputs) => ({
    value: combinedSagittalIndex({
      anteInclination: cupAnteInclination(functionalCup(inputs)),
      pelvicFemoralAngle: degrees(need(inputs, 'pelvic-femoral-angle-standing')),
    }),
  }),
  // Which of the pelvis's angles it is read from is settled where the fact is derived.
  'spinopelvic-mobility': (inputs) => ({ value: need(inputs, 'sacral-slope-change') }),
  'standing-tilt-change': (inputs) => ({
    value: pelvicTiltChange({
      reference: degrees(need(inputs, 'film-tilt')),
      posture: degrees(need(inputs, 'app-tilt-standing')),
    }),
  }),
  'pelvic-incidence-lordosis-mismatch': (inputs) => ({
    value: pelvicIncidenceLordosisMismatch({
      pelvicIncidence: degrees(need(inputs, 'pelvic-incidence')),
      lumbarLordosis: degrees(need(inputs, 'lumbar-lordosis-standing')),
    }),
  }),
  'projected-leg-length-discrepancy': (inputs) => ({
    value: projectedLegLengthDiscrepancy({
      native: millimetres(need(inputs, 'leg-length-discrepancy')),
      change: millimetres(need(inputs, 'leg-length-change')),
    }),
  }),
  'projected-global-offset-difference': (inputs) => ({
    value: projectedGlobalOffsetDifference({
      native: millimetres(need(inputs, 'global-offset-difference')),
      femoralOffsetChange: millimetres(need(inputs, 'femoral-offset-change')),
      centerMedialization: millimetres(need(inputs, 'hip-center-medialization')),
    }),
  }),
};

function functionalCup(inputs: ComputationInputs): CupOrientation<'radiographic'> {
  return functionalCupOrientation(cupOf(inputs), {
    referenceTilt: degrees(need(inputs, 'film-tilt')),
    postureTilt: degrees(need(inputs, 'app-tilt-standing')),
  });
}

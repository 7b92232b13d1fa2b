import { degrees, millimetres } from '../base/units.js';
import { worstBonyMargin, type WorstBonyMargin } from '../biomechanics/bone/bony-contact.js';
import { GENERIC_BONE, SPINE_TYPES } from '../biomechanics/bone/generic-bone-shape.js';
import { placeBone, type BonePlacement } from '../biomechanics/bone/generic-bone.js';
import { need } from './computation.js';
import type { ComputationInputs, ComputationTable } from './computation.js';

/**
 * What bone of nobody in particular leaves, and which way a plan moves that. The direction is what can be told: the size of
 * a margin or of its change is that of one made-up bone.
 */
export const BONE_COMPUTATIONS: ComputationTable = {
  'bony-impingement-margin': (inputs) => {
    const found = worst(inputs, planned(inputs));
    return found && { value: found.margin, motion: found.motion };
  },
  'bony-impingement-margin-change': (inputs) => {
    const [after, before] = [worst(inputs, planned(inputs)), worst(inputs, unchanged(inputs))];
    return after && before && { value: after.margin - before.margin, motion: after.motion };
  },
};

function worst(inputs: ComputationInputs, placement: BonePlacement): WorstBonyMargin | undefined {
  const spine = SPINE_TYPES[need(inputs, 'aiis-type') - 1];
  if (spine === undefined || !(Math.abs(placement.stemAnteversion) < 90)) return undefined;
  const shapes = GENERIC_BONE[spine];
  if (!(shapes.femoralOffset + placement.femoralOffsetChange > 0)) return undefined;
  return worstBonyMargin(placeBone(shapes, placement), inputs.motions);
}

function planned(inputs: ComputationInputs): BonePlacement {
  const { values } = inputs;
  const cranial = values['hip-center-elevation'] ?? 0;
  return {
    ...unchanged(inputs),
    femoralOffsetChange: millimetres(values['femoral-offset-change'] ?? 0),
    // The leg grows by what the head sits higher on the femur, less what the center goes up.
    headHeightChange: millimetres((values['leg-length-change'] ?? 0) + cranial),
    hipCenterMedial: millimetres(values['hip-center-medialization'] ?? 0),
    hipCenterCranial: millimetres(cranial),
  };
}

/** The same stem in bone that nothing has moved. */
function unchanged(inputs: ComputationInputs): BonePlacement {
  return {
    femoralOffsetChange: millimetres(0),
    headHeightChange: millimetres(0),
    hipCenterMedial: millimetres(0),
    hipCenterCranial: millimetres(0),
    stemAnteversion: degrees(need(inputs, 'stem-anteversion-modelled')),
  };
}

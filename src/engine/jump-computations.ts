import { degrees, millimetres } from '../base/units.js';
import {
  directionalJumpDistance,
  ESCAPES,
  UPWARD_LOAD,
} from '../biomechanics/stability/directional-jump-distance.js';
import { jumpDistance } from '../biomechanics/stability/jump-distance.js';
import { cupAxis } from '../biomechanics/orientation/cup-orientation.js';
import { need } from './computation.js';
import type { ComputationInputs, ComputationOutput, ComputationTable } from './computation.js';
import { cupOf, linerOf, openingOf } from './recorded-geometry.js';

/** How far the head must move to leave an unworn liner, with the lip, turned face, chamfer and opening on record. */
export const JUMP_COMPUTATIONS: ComputationTable = {
  'jump-distance': (inputs) => (isPlain(inputs) ? plainJump(inputs) : jumpToward('superior', inputs)),
  'jump-distance-anterior': (inputs) => jumpToward('anterior', inputs),
  'jump-distance-posterior': (inputs) => jumpToward('posterior', inputs),
};

/** A flat rim of 180 degrees, not turned: the published form, which asks for no anteversion. */
function isPlain({ values }: ComputationInputs): boolean {
  return (
    ['rim-elevation', 'rim-turn', 'rim-chamfer'].every((id) => (values[id] ?? 0) === 0) &&
    (values['rim-opening'] ?? 180) === 180
  );
}

function plainJump(inputs: ComputationInputs): ComputationOutput {
  return {
    value: jumpDistance({
      head: millimetres(need(inputs, 'effective-head-diameter')),
      radiographicInclination: degrees(need(inputs, 'cup-inclination')),
      centerOffset: millimetres(need(inputs, 'head-center-offset')),
    }),
  };
}

/** Below this the opening stands upright and no rim point lies before or behind the head. */
const UPRIGHT = 1e-9;

function jumpToward(
  direction: keyof typeof ESCAPES,
  inputs: ComputationInputs,
): ComputationOutput | undefined {
  // Of a rim that is the same all round the superior distance does not change with anteversion.
  const cup = 'cup-anteversion' in inputs.values ? inputs : withoutVersion(inputs);
  const [liner, opening] = [linerOf(cup), openingOf(cup)];
  if (!liner || !opening) return undefined;
  const [x, y] = opening;
  // A liner that opens upward carries no load that way.
  if (y > 0 || (direction !== 'superior' && Math.hypot(x, y) < UPRIGHT)) return undefined;
  const jump = directionalJumpDistance({
    cupAxis: cupAxis(cupOf(cup)),
    liner,
    load: UPWARD_LOAD,
    escape: ESCAPES[direction],
    penetration: millimetres(0),
  });
  return jump.kind === 'distance' ? { value: jump.distance } : undefined;
}

function withoutVersion(inputs: ComputationInputs): ComputationInputs {
  return { ...inputs, values: { ...inputs.values, 'cup-anteversion': 0 } };
}

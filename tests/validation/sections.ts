import { anteversionLines } from './anteversion-lines.js';
import { bone } from './bone.js';
import { cupDefinitions } from './cup-definitions.js';
import { filmReading } from './film-reading.js';
import { force } from './force.js';
import { jumpDistance } from './jump-distance.js';
import { MESH_PARAGRAPH } from './mesh-paragraph.js';
import { offset } from './offset.js';
import { oscillationAngle } from './oscillation-angle.js';
import { pelvicTilt } from './pelvic-tilt.js';
import { placement } from './placement.js';
import { rangeOfMotion } from './range-of-motion.js';
import type { Section } from './section.js';
import { spine } from './spine.js';
import { wear } from './wear.js';

/** Every subject of the page, in its order. */
export function sections(): readonly Section[] {
  return [
    cupDefinitions(),
    filmReading(),
    pelvicTilt(),
    oscillationAngle(),
    rangeOfMotion(),
    anteversionLines(),
    jumpDistance(),
    bone(),
    force(),
    offset(),
    wear(),
    spine(),
    { title: 'Contact beside colliding meshes', paragraphs: [MESH_PARAGRAPH], rows: [] },
    placement(),
  ];
}

import { mkdirSync, writeFileSync } from 'node:fs';
import { dirname } from 'node:path';
import { fileURLToPath } from 'node:url';
import { jumpDistanceFigure } from './jump-distance-figure.js';

/** Draws the figure of the README anew; a test fails when it is stale. */
const file = fileURLToPath(new URL('../../fixtures/figures/jump-distance.svg', import.meta.url));
mkdirSync(dirname(file), { recursive: true });
writeFileSync(file, jumpDistanceFigure());
process.stdout.write('drew fixtures/figures/jump-distance.svg\n');

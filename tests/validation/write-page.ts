import { writeFileSync } from 'node:fs';
import { page } from './page.js';
import { sections } from './sections.js';
import { WRITTEN_PAGE } from './written-page.js';

/** Writes `rules/computations/VALIDATION.md` anew; a test fails when it is stale. */
writeFileSync(WRITTEN_PAGE, page(sections()));
process.stdout.write(`wrote ${WRITTEN_PAGE}\n`);

import { readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { hazardLogSchema } from '../../rulebook/hazard-schema.js';
import { hazardsPage } from './hazards-page.js';

/** Writes `rules/HAZARDS.md` anew from the hazard log; a test fails when it is stale. */
const rules = fileURLToPath(new URL('../../../rules/', import.meta.url));
const log = hazardLogSchema.parse(JSON.parse(readFileSync(`${rules}hazards.json`, 'utf8')));
writeFileSync(`${rules}HAZARDS.md`, hazardsPage(log));
process.stdout.write(`wrote ${rules}HAZARDS.md\n`);

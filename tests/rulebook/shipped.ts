import { fileURLToPath } from 'node:url';
import { COMPUTATION_IDS } from '../../src/advice/index.js';
import { loadRulebook } from '../../src/rulebook-files/load-rulebook.js';
import { readPack } from '../../src/rulebook-files/read-pack.js';

/** The folder of the rulebook as shipped. */
export const RULES = fileURLToPath(new URL('../../rules/', import.meta.url));

/** Its files as read, and the rulebook they make. */
export const shippedPack = readPack(RULES);
export const shipped = loadRulebook(RULES, COMPUTATION_IDS);

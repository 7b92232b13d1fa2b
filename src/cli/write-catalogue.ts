import { mkdirSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { COMPUTATION_IDS, newAdvisor } from '../advice/index.js';
import { asDecide, compileDecide } from '../engine/compiled-decide.js';
import { COMPUTATIONS } from '../engine/computations.js';
import { loadRulebook } from '../rulebook-files/load-rulebook.js';
import { readPack } from '../rulebook-files/read-pack.js';
import { ENGINE_VERSION, SHIPPED_RULES } from '../server/serve.js';
import { cataloguePages, EVIDENCE_FOLDER } from '../workbench/catalogue/catalogue-pages.js';
import { measureBurden } from '../workbench/catalogue/measure-burden.js';
import { ruleSources } from '../workbench/rule-sources.js';
import { SHIPPED } from '../workbench/shipped-fixtures.js';

/**
 * Runs the rules over invented hips, then writes `rules/README.md` and `rules/evidence/` anew; tests fail when they are
 * stale.
 */
const engine = ENGINE_VERSION;
const rulebook = loadRulebook(SHIPPED_RULES, COMPUTATION_IDS);
const advisor = newAdvisor(rulebook, COMPUTATIONS, asDecide(compileDecide(rulebook.rules)));
const burden = await measureBurden({ advisor, engine });
writeFileSync(SHIPPED.burden, `${JSON.stringify(burden, undefined, 1)}\n`);
const pages = cataloguePages({ rulebook, sources: ruleSources(readPack(SHIPPED_RULES)), burden, engine });
const folder = join(SHIPPED_RULES, EVIDENCE_FOLDER);
mkdirSync(folder, { recursive: true });
for (const name of readdirSync(folder))
  if (!pages.has(`${EVIDENCE_FOLDER}/${name}`)) rmSync(join(folder, name));
for (const [path, text] of pages) writeFileSync(join(SHIPPED_RULES, path), text);
process.stdout.write(`wrote ${SHIPPED.burden}, and ${pages.size} pages to ${SHIPPED_RULES}\n`);

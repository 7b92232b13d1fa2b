import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { COMPUTATION_IDS, newAdvisor } from '../advice/index.js';
import { loadRulebook } from '../rulebook-files/load-rulebook.js';
import { ENGINE_VERSION, SHIPPED_RULES } from '../server/serve.js';
import { READERS, readerPages } from '../workbench/readers/reader-pages.js';

/** Writes the readers' patients anew, expected beside got; a test fails when they are stale. */
const advisor = newAdvisor(loadRulebook(SHIPPED_RULES, COMPUTATION_IDS));
for (const { reading, page, faults } of await readerPages(advisor, ENGINE_VERSION)) {
  writeFileSync(join(READERS, `${reading.id}.md`), page);
  for (const fault of faults) process.stderr.write(`${reading.id}: ${fault}\n`);
}

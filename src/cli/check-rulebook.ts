import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { COMPUTATION_IDS } from '../advice/index.js';
import { jsonSchemas } from '../rulebook/json-schemas.js';
import { loadRulebook } from '../rulebook-files/load-rulebook.js';
import { SHIPPED_RULES } from '../server/serve.js';

/** Loads the shipped rulebook, every fault told, and compares the written JSON Schemas with the definitions. */
const rulebook = loadRulebook(SHIPPED_RULES, COMPUTATION_IDS);
const stale = [...jsonSchemas()].filter(([name, text]) => {
  const file = join(SHIPPED_RULES, 'schema', `${name}.schema.json`);
  return !existsSync(file) || readFileSync(file, 'utf8') !== text;
});
if (stale.length > 0) {
  process.stderr.write(
    `stale: ${stale.map(([name]) => `rules/schema/${name}.schema.json`).join(', ')}; run npm run schemas\n`,
  );
  process.exitCode = 1;
} else {
  const { about, hash, rules, facts, parameters, citations } = rulebook;
  process.stdout.write(
    `rulebook ${about.version} (${about.status}): ${rules.length} rules, ${facts.length} facts, ${parameters.size} parameters, ${citations.size} citations\n${hash}\n`,
  );
}

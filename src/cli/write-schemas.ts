import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { jsonSchemas } from '../rulebook/json-schemas.js';
import { SHIPPED_RULES } from '../server/serve.js';

/** Writes `rules/schema/` anew from the definitions; a test fails when it is stale. */
const folder = join(SHIPPED_RULES, 'schema');
mkdirSync(folder, { recursive: true });
for (const [name, text] of jsonSchemas()) writeFileSync(join(folder, `${name}.schema.json`), text);
process.stdout.write(`wrote ${jsonSchemas().size} schemas to ${folder}\n`);

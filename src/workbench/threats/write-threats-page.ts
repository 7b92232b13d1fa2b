import { readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { threatModelSchema } from './threat-schema.js';
import { threatsPage } from './threats-page.js';

/** Writes `src/server/THREATS.md` anew from the threat model; a test fails when it is stale. */
const server = fileURLToPath(new URL('../../server/', import.meta.url));
const model = threatModelSchema.parse(JSON.parse(readFileSync(`${server}threats.json`, 'utf8')));
writeFileSync(`${server}THREATS.md`, threatsPage(model));
process.stdout.write(`wrote ${server}THREATS.md\n`);

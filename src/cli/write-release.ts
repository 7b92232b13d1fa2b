import { existsSync, mkdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { COMPUTATION_IDS, newAdvisor } from '../advice/index.js';
import { asDecide, compileDecide } from '../engine/compiled-decide.js';
import { COMPUTATIONS } from '../engine/computations.js';
import { packHash } from '../rulebook/build.js';
import { hazardLogSchema } from '../rulebook/hazard-schema.js';
import { loadRulebook } from '../rulebook-files/load-rulebook.js';
import { packText } from '../rulebook-files/pack-file.js';
import { readPack } from '../rulebook-files/read-pack.js';
import { ENGINE_VERSION, SHIPPED_RULES } from '../server/serve.js';
import { releaseDigests } from '../workbench/release/release-digests.js';
import { releaseNote } from '../workbench/release/release-note.js';
import { SHIPPED } from '../workbench/shipped-fixtures.js';
import { readCases } from '../workbench/trial/read-cases.js';
import { writeWhole } from './output.js';

/**
 * Freezes the rulebook under its version: the pack, what it tells of every fixture, and its release note. A version that
 * was released with other content is refused: released packs are never edited.
 */
const pack = readPack(SHIPPED_RULES);
const rulebook = loadRulebook(SHIPPED_RULES, COMPUTATION_IDS);
const { version } = rulebook.about;
const folder = join(SHIPPED_RULES, 'releases');
const packed = packText(pack);
const path = join(folder, `${version}.json`);
if (existsSync(path) && readFileSync(path, 'utf8') !== packed)
  throw new Error(
    `${path}: expected the rules as they are, found others; raise the version in rulebook.json`,
  );
const cases = readCases({ patients: SHIPPED.patients, edges: SHIPPED.edges }, rulebook);
if (!cases.ok) throw new Error(cases.faults.join('\n'));
const advisor = newAdvisor(rulebook, COMPUTATIONS, asDecide(compileDecide(rulebook.rules)));
const digests = await releaseDigests(cases.value, { advisor, engine: ENGINE_VERSION });
const log = readFileSync(join(SHIPPED_RULES, 'hazards.json'), 'utf8');
const hazards = hazardLogSchema.parse(JSON.parse(log));
mkdirSync(folder, { recursive: true });
writeWhole(path, packed);
writeWhole(join(folder, `${version}.told.json`), `${JSON.stringify(digests, undefined, 1)}\n`);
writeWhole(join(folder, `${version}.md`), releaseNote({ rulebook, hash: packHash(pack), hazards }));
process.stdout.write(`released ${version}, ${digests.fixtures.length} fixtures asked, in ${folder}\n`);

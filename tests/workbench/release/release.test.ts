import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { COMPUTATION_IDS, newAdvisor } from '../../../src/advice/index.js';
import { asDecide, compileDecide } from '../../../src/engine/compiled-decide.js';
import { COMPUTATIONS } from '../../../src/engine/computations.js';
import { buildRulebook } from '../../../src/rulebook/build.js';
import { hazardLogSchema } from '../../../src/rulebook/hazard-schema.js';
import type { Rulebook } from '../../../src/rulebook/types.js';
import { readPackText } from '../../../src/rulebook-files/pack-file.js';
import { readReleases } from '../../../src/rulebook-files/read-release.js';
import { ENGINE_VERSION, SHIPPED_RULES } from '../../../src/server/serve.js';
import { fixtureOf, releaseDigests } from '../../../src/workbench/release/release-digests.js';
import type { FixtureDigest, ReleaseDigests } from '../../../src/workbench/release/release-digests.js';
import { releaseNote } from '../../../src/workbench/release/release-note.js';
import { each } from '../../long-form.js';
import { patientsAndEdges } from '../shipped-cases.js';

/** Released rulebooks: frozen, and still telling what they told. Truth: the bytes written when each was released. */

const releases = readReleases(SHIPPED_RULES);
const newest = releases.at(-1);

function frozen(): Rulebook {
  if (!newest?.read.ok) throw new Error('expected a released pack that reads');
  const built = buildRulebook(newest.read.pack, COMPUTATION_IDS);
  if (!built.ok) throw new Error(JSON.stringify(built.issues));
  return built.rulebook;
}

function beside(ending: string): string {
  return readFileSync(join(SHIPPED_RULES, 'releases', `${newest?.version ?? ''}.${ending}`), 'utf8');
}

describe('a released pack', () => {
  it('exists, reads, and has the hash it was given', () => {
    expect(releases.length).toBeGreaterThan(0);
    expect(releases.filter(({ read }) => !read.ok)).toEqual([]);
  });

  it('is refused when one character of it changes', () => {
    const text = readFileSync(join(SHIPPED_RULES, newest?.file ?? ''), 'utf8');
    const edited = text.replace('"info"', '"warning"');
    expect(edited).not.toBe(text);
    expect(readPackText(edited).ok).toBe(false);
  });

  it('tells of every fixture what it told when it was released, to the byte', async () => {
    const then = JSON.parse(beside('told.json')) as ReleaseDigests;
    const rulebook = frozen();
    const advisor = newAdvisor(rulebook, COMPUTATIONS, asDecide(compileDecide(rulebook.rules)));
    const tried = each(5, then.fixtures);
    const names = new Set(tried.map(({ fixture }) => fixture));
    const cases = patientsAndEdges.filter(
      ({ name, expects }) =>
        names.has(fixtureOf({ name })) &&
        (expects.kind !== 'outcome' || rulebook.rules.some(({ id }) => id === expects.rule)),
    );
    const now = await releaseDigests(cases, { advisor, engine: ENGINE_VERSION });
    expect([then.rulebook, then.hash, then.engine]).toEqual([now.rulebook, now.hash, now.engine]);
    const current = new Map(now.fixtures.map((one) => [one.fixture, one]));
    const isAsked = ({ fixture, asked }: FixtureDigest): boolean => current.get(fixture)?.asked === asked;
    // A fixture may be changed after a release, and then asks something else; most must still ask the same.
    const asked = tried.filter(isAsked);
    expect(asked.length / tried.length).toBeGreaterThanOrEqual(0.9);
    expect(asked.filter(({ fixture, told }) => current.get(fixture)?.told !== told)).toEqual([]);
  }, 120_000);

  it('has a note that says which advice exists for whom, as it was written', () => {
    const log = hazardLogSchema.parse(JSON.parse(readFileSync(join(SHIPPED_RULES, 'hazards.json'), 'utf8')));
    const note = beside('md');
    const rulebook = frozen();
    for (const { id } of rulebook.rules) expect(note).toContain(`\`${id}\``);
    const again = releaseNote({ rulebook, hash: rulebook.hash, hazards: log });
    const rules = (text: string): readonly string[] =>
      text.split('\n').filter((line) => line.startsWith('| `'));
    expect(rules(note)).toEqual(rules(again));
  });
});

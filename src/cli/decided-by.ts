import { COMPUTATION_IDS } from '../advice/index.js';
import { loadPack } from '../rulebook-files/load-pack.js';
import { loadRulebook } from '../rulebook-files/load-rulebook.js';
import { readReleases } from '../rulebook-files/read-release.js';
import { loadSite } from '../rulebook-files/read-site.js';
import { buildRulebook } from '../rulebook/build.js';
import type { Site } from '../rulebook/site.js';
import type { Rulebook } from '../rulebook/types.js';
import type { Config } from '../server/config.js';
import { SHIPPED_RULES } from '../server/serve.js';
import type { DecisionRecord } from '../store/store.js';
import { CallError } from './io.js';

/** The rulebook a decision was made with, found by its hash: the one set, the one shipped, or a released one. */
export function rulebookOf({ rulebook: named }: DecisionRecord, { rulebook: pack }: Config): Rulebook {
  if (pack !== undefined) {
    const set = loadPack(pack, COMPUTATION_IDS);
    if (set.hash === named.hash) return set;
  }
  const release = readReleases(SHIPPED_RULES).find(({ read }) => read.ok && read.hash === named.hash);
  if (release?.read.ok) {
    const built = buildRulebook(release.read.pack, COMPUTATION_IDS);
    if (built.ok) return built.rulebook;
  }
  const shipped = loadRulebook(SHIPPED_RULES, COMPUTATION_IDS);
  if (shipped.hash === named.hash) return shipped;
  throw new CallError(
    `expected the rulebook ${named.version} with hash ${named.hash}, found it neither set, released nor shipped`,
    'set KOTYLE_RULEBOOK to the pack of that version',
  );
}

/** The site a decision was made with; undefined when it was made without one. */
export function siteOf(
  { site: named }: DecisionRecord,
  { site: path }: Config,
  rulebook: Rulebook,
): Site | undefined {
  if (!named) return undefined;
  const wanted = `the site ${named.id} ${named.version} with hash ${named.hash}`;
  if (path === undefined) throw new CallError(`KOTYLE_SITE: expected ${wanted}, found no site set`);
  const site = loadSite(path, rulebook);
  if (site.hash === named.hash) return site;
  throw new CallError(
    `KOTYLE_SITE: expected ${wanted}, found ${site.id} ${site.version} with hash ${site.hash}`,
  );
}

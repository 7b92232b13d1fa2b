import { readFileSync, statSync } from 'node:fs';
import { COMPUTATION_IDS } from '../../advice/index.js';
import { readPackText } from '../../rulebook-files/pack-file.js';
import { readPack } from '../../rulebook-files/read-pack.js';
import { buildRulebook } from '../../rulebook/build.js';
import { formatIssue } from '../../rulebook/pack.js';
import type { Pack } from '../../rulebook/pack.js';

/** A rulebook that is tried in the shadow of the one in force: checked like any other before it is tried. */
export interface Candidate {
  readonly pack: Pack;
  readonly version: string;
  readonly hash: string;
}

/**
 * Reads a candidate, a released pack or a folder of rules. Throws with every fault listed: a candidate that is wrong is
 * told at the start, when somebody looks, and not passed over for weeks.
 */
export function loadCandidate(path: string): Candidate {
  const pack = packAt(path);
  const built = buildRulebook(pack, COMPUTATION_IDS);
  if (!built.ok)
    throw new Error(`KOTYLE_CANDIDATE: ${path} has faults:\n${built.issues.map(formatIssue).join('\n')}`);
  return { pack, version: built.rulebook.about.version, hash: built.rulebook.hash };
}

function packAt(path: string): Pack {
  const found = statSync(path, { throwIfNoEntry: false });
  if (!found)
    throw new Error(
      `KOTYLE_CANDIDATE: expected a released pack or a folder of rules, found nothing at ${path}`,
    );
  if (found.isDirectory()) return readPack(path);
  const read = readPackText(readFileSync(path, 'utf8'));
  if (read.ok) return read.pack;
  throw new Error(`KOTYLE_CANDIDATE: ${path}: expected ${read.expected}, found ${read.found}`);
}

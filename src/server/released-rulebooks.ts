import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { COMPUTATION_IDS } from '../advice/index.js';
import { buildRulebook } from '../rulebook/build.js';
import type { Rulebook } from '../rulebook/types.js';
import { readPackText } from '../rulebook-files/pack-file.js';
import { readReleases } from '../rulebook-files/read-release.js';

/** The folder of the rulebook shipped with the program, from `src/server` and from `dist/server` alike. */
const SHIPPED = fileURLToPath(new URL('../../rules', import.meta.url));

/** Rulebooks of earlier versions that are shipped as packs: read when somebody asks, and once. */
export interface ReleasedRulebooks {
  /** Undefined where no such version is shipped, or this engine can no longer read it. */
  readonly rulebook: (version: string) => Rulebook | undefined;
  /** Whether any release had this file: a rule that was taken back is gone, not unknown. */
  readonly hadFile: (folder: string, id: string) => boolean;
}

const VERSION = /^\d{4}\.\d{1,2}\.\d{1,6}$/;

export function releasedRulebooks(root: string = SHIPPED): ReleasedRulebooks {
  const read = new Map<string, Rulebook | undefined>();
  let names: ReadonlySet<string> | undefined;
  return {
    rulebook: (version) => {
      // Whoever asks for what does not exist makes nothing be kept.
      if (!VERSION.test(version) || !existsSync(packPath(root, version))) return undefined;
      if (!read.has(version)) read.set(version, readRelease(root, version));
      return read.get(version);
    },
    hadFile: (folder, id) => {
      names ??= filesReleased(root);
      return names.has(`${folder}/${id}`);
    },
  };
}

function packPath(root: string, version: string): string {
  return join(root, 'releases', `${version}.json`);
}

function readRelease(root: string, version: string): Rulebook | undefined {
  const read = readPackText(readFileSync(packPath(root, version), 'utf8'));
  if (!read.ok) return undefined;
  const built = buildRulebook(read.pack, COMPUTATION_IDS);
  return built.ok ? built.rulebook : undefined;
}

/** Folder and file name of every file of every release, without what stands between them. */
function filesReleased(root: string): ReadonlySet<string> {
  const paths = readReleases(root).flatMap(({ read }) =>
    read.ok ? read.pack.files.map(({ path }) => path) : [],
  );
  return new Set(
    paths.map((path) => {
      const parts = path.replace(/\.json$/, '').split('/');
      return `${parts[0] ?? ''}/${parts.at(-1) ?? ''}`;
    }),
  );
}

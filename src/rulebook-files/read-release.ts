import { existsSync, readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { readPackText } from './pack-file.js';
import type { ReadPackText } from './pack-file.js';

const PACKED = /^(\d{4})\.(\d{1,2})\.(\d+)\.json$/;

/** A pack below `releases/`, and what came of reading it. */
export interface ReadRelease {
  readonly file: string;
  readonly version: string;
  readonly read: ReadPackText;
}

/** The rulebooks released of a folder of rules, the newest last. */
export function readReleases(root: string): readonly ReadRelease[] {
  const folder = join(root, 'releases');
  if (!existsSync(folder)) return [];
  return readdirSync(folder)
    .filter((name) => PACKED.test(name))
    .sort((a, b) => byNumbers(a, b))
    .map((name) => ({
      file: `releases/${name}`,
      version: name.slice(0, -'.json'.length),
      read: readPackText(readFileSync(join(folder, name), 'utf8')),
    }));
}

/** Year, month and number as numbers: the tenth release of a month comes after the second. */
function byNumbers(a: string, b: string): number {
  const [first, second] = [a, b].map((name) => (PACKED.exec(name) ?? []).slice(1).map(Number));
  const differing = (first ?? []).findIndex((part, index) => part !== second?.[index]);
  return differing < 0 ? 0 : (first?.[differing] ?? 0) - (second?.[differing] ?? 0);
}

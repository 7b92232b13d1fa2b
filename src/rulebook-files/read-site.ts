import { readFileSync, realpathSync } from 'node:fs';
import { basename, dirname, isAbsolute, join, relative, sep } from 'node:path';
import type { PackFile } from '../rulebook/pack.js';
import { formatIssue } from '../rulebook/pack.js';
import { parseSite } from '../rulebook/site.js';
import type { Site } from '../rulebook/site.js';
import type { Rulebook } from '../rulebook/types.js';
import { repeatedMembers } from './repeated-members.js';

/** Reads and checks a site file and its maps. Throws with every fault listed: a service never runs on half a site. */
export function loadSite(path: string, rulebook: Rulebook): Site {
  const result = parseSite(readSite(path), rulebook);
  if (result.ok) return result.site;
  throw new Error(`the site file ${path} has faults:\n${result.issues.map(formatIssue).join('\n')}`);
}

/**
 * A site file and the maps it names, by their paths from its folder. A map outside that folder is not read, whether
 * it is named with dots or reached by a link; a file that can't be read becomes one that no schema accepts.
 */
export function readSite(path: string): readonly PackFile[] {
  const root = dirname(path);
  const site = { path: basename(path), content: contentOf(path) };
  return [site, ...mapsOf(site.content).map((map) => ({ path: map, content: mapContent(root, map) }))];
}

function mapsOf(content: unknown): readonly string[] {
  if (typeof content !== 'object' || content === null || !('maps' in content)) return [];
  const { maps } = content;
  return Array.isArray(maps)
    ? [...new Set(maps.filter((map): map is string => typeof map === 'string'))]
    : [];
}

function mapContent(root: string, map: string): unknown {
  const full = join(root, map);
  if (isAbsolute(map) || isOutside(root, full)) return OUTSIDE;
  try {
    return isOutside(realpathSync(root), realpathSync(full)) ? OUTSIDE : contentOf(full);
  } catch {
    return 'no such file';
  }
}

const OUTSIDE = 'a file outside the folder of the site file, not read';

function isOutside(root: string, full: string): boolean {
  const way = relative(root, full);
  return way === '..' || way.startsWith(`..${sep}`) || isAbsolute(way);
}

function contentOf(path: string): unknown {
  let text: string;
  try {
    text = readFileSync(path, 'utf8');
  } catch (error) {
    return `not readable: ${error instanceof Error && 'code' in error ? String(error.code) : 'no reason given'}`;
  }
  try {
    const content: unknown = JSON.parse(text);
    const [twice] = repeatedMembers(text);
    return twice ? `${TWICE} ${String(twice.value)}` : content;
  } catch {
    return NO_JSON;
  }
}

const NO_JSON = 'not JSON';
/** A member that stands twice could be meant either way. */
const TWICE = 'one member twice in an object:';

/** Whether a file of a site was read as a text, whatever became of it. */
export function wasRead({ content }: PackFile): boolean {
  return typeof content !== 'string' || content === NO_JSON || content.startsWith(TWICE);
}

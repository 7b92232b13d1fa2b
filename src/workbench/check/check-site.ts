import { readFileSync, statSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { readSite } from '../../rulebook-files/read-site.js';
import { parseSite } from '../../rulebook/site.js';
import type { Rulebook } from '../../rulebook/types.js';
import type { CheckFinding } from './finding.js';
import { UnusableInput } from './finding.js';
import { locator } from './locate.js';
import { brokenJson, repeatedIn } from './rule-texts.js';

/** Everything wrong in a site file and its maps beside a rulebook. Throws UnusableInput when there is no such file. */
export function checkSite(path: string, rulebook: Rulebook): readonly CheckFinding[] {
  if (!statSync(path, { throwIfNoEntry: false })?.isFile())
    throw new UnusableInput(`--site: expected a site file, found none at ${path}`, 'the path of a site file');
  const files = readSite(path);
  // What stands outside the folder of the site file was not read, and is not read here either.
  const read = files.filter(({ content }) => typeof content === 'object' || content === 'not JSON');
  const texts = new Map(
    read.map((file) => [file.path, readFileSync(join(dirname(path), file.path), 'utf8')] as const),
  );
  const broken = [...texts].flatMap(([file, text]) => brokenJson(file, text));
  if (broken.length > 0) return broken;
  const repeated = [...texts].flatMap(([file, text]) => repeatedIn('site', file, text));
  const result = parseSite(files, rulebook);
  if (result.ok) return repeated;
  const locate = locator(texts);
  const issues = result.issues.map((issue) => ({
    check: 'site' as const,
    severity: 'error' as const,
    ...issue,
    line: locate(issue),
  }));
  return [...repeated, ...issues];
}

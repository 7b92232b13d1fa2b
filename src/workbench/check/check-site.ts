import { readFileSync, statSync } from 'node:fs';
import { basename, dirname, join } from 'node:path';
import { readSite, wasRead } from '../../rulebook-files/read-site.js';
import { governance } from '../../rulebook/governance-report.js';
import { parseSite } from '../../rulebook/site.js';
import type { Rulebook } from '../../rulebook/types.js';
import type { CheckFinding } from './finding.js';
import { UnusableInput } from './finding.js';
import { locator } from './locate.js';
import { brokenJson, repeatedIn } from './rule-texts.js';

/** What is wrong in a site, and what is no fault but worth knowing at this time. */
export interface CheckedSite {
  readonly findings: readonly CheckFinding[];
  readonly notes: readonly CheckFinding[];
}

/** Looks at a site file and its maps beside a rulebook. Throws UnusableInput when there is no such file. */
export function checkSite(path: string, rulebook: Rulebook, now: string): CheckedSite {
  if (!statSync(path, { throwIfNoEntry: false })?.isFile())
    throw new UnusableInput(`--site: expected a site file, found none at ${path}`, 'the path of a site file');
  const files = readSite(path);
  // What stands outside the folder of the site file was not read, and is not read here either.
  const read = files.filter(wasRead);
  const texts = new Map(
    read.map((file) => [file.path, readFileSync(join(dirname(path), file.path), 'utf8')] as const),
  );
  const broken = [...texts].flatMap(([file, text]) => brokenJson(file, text));
  if (broken.length > 0) return { findings: broken, notes: [] };
  const repeated = [...texts].flatMap(([file, text]) => repeatedIn('site', file, text));
  if (repeated.length > 0) return { findings: repeated, notes: [] };
  const result = parseSite(files, rulebook);
  const locate = locator(texts);
  if (!result.ok) {
    const findings = result.issues.map((issue): CheckFinding => ({
      check: 'site',
      severity: 'error',
      ...issue,
      line: locate(issue),
    }));
    return { findings, notes: [] };
  }
  const file = basename(path);
  const { notices } = governance({ rulebook, site: result.site }, 'production', now);
  const notes = notices.map((notice): CheckFinding => {
    const found = { check: 'site' as const, severity: 'note' as const, file, ...notice };
    return { ...found, line: locate(found) };
  });
  return { findings: [], notes };
}

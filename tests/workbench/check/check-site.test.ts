import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { checkSite } from '../../../src/workbench/check/check-site.js';
import { SITE_FILE } from '../../facts/sites.js';
import { shipped } from '../../rulebook/shipped.js';
import { lineWith } from './planted.js';

// Truth: integration decisions section 4: what a site sets ends on a day; a service does not fail because a day passed.
describe('the check of a site', () => {
  const notesOn = (day: string): readonly string[] => {
    const { findings, notes } = checkSite(SITE_FILE, shipped, `${day}T12:00:00.000Z`);
    expect(findings).toEqual([]);
    return notes.map(({ severity, line, path, found }) => `${severity} ${line} ${path}: ${found}`);
  };

  it('gives notice of a day that is near or has passed, with its line, and finds no fault in either', () => {
    const path = 'rules.precautions-and-bracing.until';
    const line = lineWith(readFileSync(SITE_FILE, 'utf8'), '"until": "2027-05-01"');
    const standing = notesOn('2026-11-24');
    expect(standing).toHaveLength(2);
    expect(notesOn('2027-04-01')).toEqual(standing);
    expect(notesOn('2027-04-15')).toContain(`note ${line} ${path}: 2027-05-01, in 16 days`);
    expect(notesOn('2027-05-01')).toContain(`note ${line} ${path}: 2027-05-01, in 0 days`);
    expect(notesOn('2027-05-02')).toContain(
      `note ${line} ${path}: 2027-05-01, which has passed: the rulebook counts`,
    );
  });
});

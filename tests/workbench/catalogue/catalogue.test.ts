import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { burdenSchema } from '../../../src/workbench/catalogue/burden-schema.js';
import { cataloguePages } from '../../../src/workbench/catalogue/catalogue-pages.js';
import { openQuestionsSchema } from '../../../src/workbench/catalogue/open-questions.js';
import { readShipped } from '../../../src/workbench/checked-file.js';
import { SHIPPED } from '../../../src/workbench/shipped-fixtures.js';
import { RULES, shipped } from '../../rulebook/shipped.js';
import { sources } from '../shipped-cases.js';

const burden = readShipped(SHIPPED.burden, burdenSchema);
const questions = readShipped(SHIPPED.openQuestions, openQuestionsSchema);
const pages = cataloguePages({ rulebook: shipped, sources, burden, engine: '0.2.0' });
const catalogue = pages.get('README.md') ?? '';

describe('the catalogue and the evidence pages', () => {
  it('are not stale: `npm run catalogue` writes them anew', () => {
    for (const [path, text] of pages) expect(readFileSync(join(RULES, path), 'utf8'), path).toBe(text);
  });

  it('have a page for each rule and none besides', () => {
    expect(readdirSync(join(RULES, 'evidence')).sort()).toEqual(
      shipped.rules.map(({ id }) => `${id}.md`).sort(),
    );
  });

  it('lead to one another without a dead end', () => {
    const linked = [...catalogue.matchAll(/\]\(([^)]+)\)/g)].map(([, target]) => target ?? '');
    expect(linked.filter((target) => !pages.has(target))).toEqual([]);
    for (const { id } of shipped.rules) expect(linked).toContain(`evidence/${id}.md`);
  });
});

describe('the catalogue', () => {
  const rows = catalogue.split('\n').filter((line) => line.includes('](evidence/') && line.startsWith('| '));

  it('has one line for each rule, of as many cells as its heading', () => {
    expect(rows.length).toBe(shipped.rules.length);
    for (const row of rows) expect(row.replaceAll('\\|', '').split(' | ').length).toBe(8);
  });

  it('says for each rule what it says, its limits with how far they were read, and what holds it', () => {
    // Truth: the rule's own file, parameters and test patients, read by eye.
    const row = rows.find((one) => one.includes('`cup-inclination-above-classical`')) ?? '';
    expect(row).toContain('Cup inclination lies above its limit, inside another published range.');
    expect(row).toContain('`cup-inclination-upper-limit` 50°; secondary source; low');
    expect(row).toContain('Sariali 2009 (abstract)');
    expect(row).toMatch(
      /edges: fires [1-9]\d*, cannot tell [1-9]\d*, does not fire [1-9]\d*, not applicable \d/,
    );
    expect(row).toContain('asymptomatic-58-28');
  });

  it('asks clinicians about parameters that exist and that some rule or computation uses', () => {
    for (const id of questions.signOff.flatMap(({ parameters }) => parameters))
      expect(shipped.parameters.has(id), id).toBe(true);
  });

  it('names sources that are cited', () => {
    for (const key of questions.conflicts.flatMap(({ citations }) => citations))
      expect(shipped.citations.has(key), key).toBe(true);
  });

  it('is the same whenever it is made', () => {
    expect(cataloguePages({ rulebook: shipped, sources, burden, engine: '0.2.0' })).toEqual(pages);
  });
});

import { describe, expect, it } from 'vitest';
import { ENDPOINTS } from '../../../src/rulebook/schema-parts.js';
import type { Rule, Rulebook } from '../../../src/rulebook/types.js';
import { evidenceMarkdown } from '../../../src/render/evidence/evidence-markdown.js';
import { evidencePage } from '../../../src/render/evidence/evidence-page.js';
import type { EvidencePage } from '../../../src/render/evidence/evidence-page.js';
import { fullReference } from '../../../src/render/evidence/reference.js';
import { shipped } from '../../rulebook/shipped.js';

const pageOf = (rule: Rule): EvidencePage => evidencePage(rule, shipped, '0.1.0');
const RULES = shipped.rules.map((rule) => [rule.id, rule] as const);

function ruleNamed(id: string): Rule {
  const rule = shipped.rules.find((one) => one.id === id);
  if (!rule) throw new Error(`no rule ${id}`);
  return rule;
}

/** The eight blocks in the order in which a card's basis is laid open, then what belongs to every intervention. */
const BLOCKS = [
  '1. Finding',
  '2. Why',
  '3. Options to consider',
  '4. Strength',
  '5. Not known',
  '6. Limits',
  '7. Sources',
  '8. Footer',
  'Source attributes',
  'Answers to its card',
];

describe.each(RULES)('the evidence page of %s', (_id, rule) => {
  const page = pageOf(rule);
  const text = evidenceMarkdown(page);

  it('has the eight blocks in order, none of them empty', () => {
    const headings = [...text.matchAll(/^## (.+)$/gm)].map(([, heading]) => heading);
    expect(headings).toEqual(BLOCKS);
    for (const block of text.split(/^## /m).slice(1))
      expect(block.split('\n').filter(Boolean).length).toBeGreaterThan(1);
  });

  it('answers each of the 13 source attributes', () => {
    expect(page.attributes.map(({ number }) => number)).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13]);
    for (const { says } of page.attributes) expect(says.join('').length).toBeGreaterThan(3);
  });

  it('says what each outcome says, who was not studied, and that nobody has reviewed it', () => {
    for (const sentence of Object.values(rule.messages))
      expect(Object.values(page.outcomes)).toContain(sentence);
    expect(page.limits.rule.length).toBeGreaterThan(0);
    expect(page.limits.all.length).toBeGreaterThan(0);
    expect(page.footer.review).toMatch(/^(?:draft: no clinician|reviewed \d{4}-)/);
  });

  it('lists every effect once, under its endpoint, with interval, horizon and population', () => {
    const listed = page.strength.effects.flatMap(({ lines }) => lines);
    expect(listed.length).toBe(rule.effects?.length ?? 0);
    for (const { interval, horizon, population } of listed)
      for (const part of [interval, horizon, population]) expect(part).not.toMatch(/^(?:not stated)?$/);
    const order = page.strength.effects.map(({ endpoint }) =>
      ENDPOINTS.findIndex((one) => one === endpoint.replaceAll(' ', '-')),
    );
    expect(order).toEqual([...order].sort((a, b) => a - b));
  });

  it('names every source of the rule, of its effects and of its numbers', () => {
    const keys = page.sources.map(({ key }) => key);
    const cited = [
      ...(rule.citations ?? []).map(({ key }) => key),
      ...(rule.effects ?? []).flatMap(({ citations }) => citations),
      ...page.why.limits.flatMap(({ id }) => shipped.parameters.get(id)?.citations ?? []),
    ];
    expect([...new Set(cited)].filter((key) => !keys.includes(key))).toEqual([]);
    expect(new Set(keys).size).toBe(keys.length);
    if (keys.length === 0) expect(page.basis).toBe('common practice, no source');
  });

  it('leaves no hole and no placeholder', () => {
    expect(text).not.toMatch(/undefined|NaN|\[object|\\\{|\{[a-z]/);
    expect(text).not.toMatch(/‹[^›]*‹[^›]*‹/);
  });
});

describe('what an evidence page says', () => {
  // Truth: the rule's own file, read by eye.
  it('tells a limit with its value, its source and how far that was read', () => {
    const text = evidenceMarkdown(pageOf(ruleNamed('cup-inclination-above-classical')));
    expect(text).toContain('  - cup inclination clearly above 50° (limit `cup-inclination-upper-limit`)');
    expect(text).toMatch(
      /^\| `cup-inclination-upper-limit` \| 50° \| threshold \| secondary source \| low \|/m,
    );
    expect(text).toContain('‹superior jump distance with cup inclination 40°›');
  });

  it('tells an interval where one was printed, and that none was where none was', () => {
    const { strength } = pageOf(ruleNamed('neurological-disease'));
    const lines = strength.effects.flatMap(({ lines: all }) => all);
    const line = (start: string): unknown => lines.find(({ says }) => says.startsWith(start));
    expect(line('dementia: OR 1.96')).toMatchObject({
      interval: '95 % CI 1.13–3.39',
      horizon: 'about six months',
    });
    expect(line('multiple sclerosis')).toMatchObject({ interval: 'none printed in what was read' });
  });

  it('keeps endpoints apart', () => {
    const { strength } = pageOf(ruleNamed('abductor-loss'));
    expect(strength.effects.map(({ endpoint }) => endpoint)).toEqual(
      expect.arrayContaining(['dislocation', 'infection', 'device failure']),
    );
  });

  it('declares what a rule uses otherwise than the rulebook', () => {
    const used = (id: string): string | undefined =>
      pageOf(ruleNamed(id)).attributes.find(({ number }) => number === 13)?.says[0];
    expect(used('neurological-disease')).toMatch(/^used: .*dementia as a recorded diagnosis/);
    expect(used('cup-retroversion-confirmed')).toMatch(/^not used: /);
  });

  it('names a source as the evidence has it, with what is not known left out', () => {
    expect(fullReference('abdel-2016', shipped)).toBe(
      'Abdel MP et al. What safe zone? The vast majority of dislocated THAs are within the Lewinnek safe zone for acetabular component position. Clin Orthop Relat Res. 2016. doi:10.1007/s11999-015-4432-5. PMID 26150264',
    );
  });

  it('says that a rule of the page alone has no card, and whose card says it better', () => {
    const rule = ruleNamed('cup-retroversion-confirmed');
    const other: Rule = { ...rule, tells: 'page', yieldsTo: ['global-offset-loss'] };
    const text = evidenceMarkdown(evidencePage(other, shipped, '0.1.0'));
    expect(text).toContain('on this page only, never a card');
    expect(text).toContain('(global-offset-loss.md)');
    expect(text).toContain('It has no card, so there is nothing to answer.');
  });

  it('shows who reviewed a rule once somebody has', () => {
    const rule: Rule = {
      ...ruleNamed('cup-retroversion-confirmed'),
      review: { state: 'reviewed', by: ['a surgeon'], on: '2027-01-02' },
    };
    expect(evidenceMarkdown(evidencePage(rule, shipped, '0.1.0'))).toContain(
      'reviewed 2027-01-02 by a surgeon',
    );
  });

  it('is the same whenever it is made', () => {
    const again: Rulebook = structuredClone({ ...shipped });
    for (const rule of shipped.rules)
      expect(evidenceMarkdown(evidencePage(rule, again, '0.1.0'))).toBe(evidenceMarkdown(pageOf(rule)));
  });
});

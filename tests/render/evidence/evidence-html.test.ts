import { describe, expect, it } from 'vitest';
import { evidenceHtml } from '../../../src/render/evidence/evidence-html.js';
import { evidencePage } from '../../../src/render/evidence/evidence-page.js';
import type { Rule } from '../../../src/rulebook/types.js';
import { shipped } from '../../rulebook/shipped.js';

const RULES = shipped.rules.map((rule) => [rule.id, rule] as const);

/** A page as a reader sees it: without its tags. */
function textOf(html: string): string {
  const plain = html.replaceAll(/<[^>]*>/g, ' ');
  const signs: Readonly<Record<string, string>> = { lt: '<', gt: '>', quot: '"', '#39': "'", amp: '&' };
  return plain
    .replaceAll(/&(lt|gt|quot|#39|amp);/g, (_entity, name: string) => signs[name] ?? '')
    .replaceAll(/\s+/g, ' ');
}

const flat = (text: string): string => text.replaceAll(/\s+/g, ' ');

describe.each(RULES)('the printable page of %s', (_id, rule) => {
  const page = evidencePage(rule, shipped, '0.2.0');
  const html = evidenceHtml(page, { rulebook: shipped });
  const text = textOf(html);

  it('answers each of the 13 source attributes, the noes among them', () => {
    for (const { number, name, says } of page.attributes) {
      expect(text).toContain(`${number}. ${name}`);
      for (const one of says) expect(text).toContain(flat(one));
    }
  });

  it('shows every parameter the rule names with its value, why, and sources', () => {
    for (const { id, value, why, sources } of page.why.limits)
      for (const part of [id, value, why, ...sources]) expect(text).toContain(flat(part));
  });

  it('says the four outcomes, who was not studied, where it comes from, when it is to be reviewed, and who decides', () => {
    for (const part of [
      ...Object.values(rule.messages),
      ...page.limits.rule,
      ...page.limits.all,
      ...page.sources.map(({ reference }) => reference),
      rule.reviewBy,
      shipped.about.deferral,
      ...shipped.about.changes.map(({ says }) => says),
    ])
      expect(text).toContain(flat(part));
  });

  it('names no script, style attribute or address but its own', () => {
    expect(html).not.toMatch(/<script|<style|\sstyle=|\son[a-z]+=/i);
    expect(
      [...html.matchAll(/(?:href|src)="([^"]+)"/g)].every(([, target = '']) => /^(?:#|\.\.\/)/.test(target)),
    ).toBe(true);
  });
});

describe('words of a rulebook', () => {
  it('are words on the page, whatever signs they hold', () => {
    const [first] = shipped.rules;
    const odd: Rule = { ...(first as Rule), title: '<img src=x onerror=alert(1)> & "more"' };
    const html = evidenceHtml(evidencePage(odd, shipped, '0.2.0'), { rulebook: shipped });
    expect(html).not.toContain('<img');
    expect(textOf(html)).toContain('<img src=x onerror=alert(1)> & "more"');
  });
});

import { createHash } from 'node:crypto';
import { describe, expect, it } from 'vitest';
import type { Card } from '../../../src/render/card-types.js';
import { readableEvaluation } from '../../../src/workbench/evaluate/readable.js';
import { cardHtml } from '../../../src/workbench/report/card-html.js';
import { cohortPage } from '../../../src/workbench/report/cohort-page.js';
import { evaluationPage } from '../../../src/workbench/report/evaluation-page.js';
import { readinessPage } from '../../../src/workbench/readiness/readiness-page.js';
import { trialPage } from '../../../src/workbench/report/trial-page.js';
import { rulebook } from '../../advice/patients.js';
import { evaluationNamed } from '../evaluate/evaluations.js';
import { smallReadiness } from '../readiness/samples.js';
import { smallCohort, trial } from './cohorts.js';

const { deferral } = rulebook.about;
const HOSTILE = '<script>alert(1)</script>"\'&';

async function evaluationHtml(name: string): Promise<string> {
  const { answers } = await evaluationNamed(name);
  return evaluationPage(readableEvaluation(answers, rulebook), 'The whole record.');
}

async function pages(): Promise<readonly string[]> {
  return [
    await evaluationHtml('demo-parkinson-steep-cup'),
    cohortPage(await smallCohort(), deferral),
    trialPage(trial, deferral),
    readinessPage(await smallReadiness(), deferral),
  ];
}

describe('every report', () => {
  it('is one file that asks nothing of any network', async () => {
    for (const text of await pages()) {
      expect(text).toMatch(/^<!doctype html>/);
      expect([...text.matchAll(/\s(?:src|srcset|action|data)=/g)]).toEqual([]);
      expect([...text.matchAll(/\shref="([^"]*)"/g)].filter(([, url]) => !url?.startsWith('#'))).toEqual([]);
      expect(text).not.toMatch(/@import|url\(|<link|<iframe|<img/);
    }
  });

  it('lets no script run but the one it was written with', async () => {
    for (const text of await pages()) {
      const scripts = [...text.matchAll(/<script>([\s\S]*?)<\/script>/g)].map(([, script]) => script ?? '');
      expect(scripts).toHaveLength(1);
      const hash = createHash('sha256').update(scripts.join('')).digest('base64');
      const [, policy = ''] = /http-equiv="Content-Security-Policy" content="([^"]*)"/.exec(text) ?? [];
      expect(policy.replaceAll('&#39;', "'")).toBe(
        `default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-${hash}'`,
      );
    }
  });

  it('says who decides, at its head and at its end, and which rulebook it was made with', async () => {
    for (const text of await pages()) {
      expect(text.split(deferral).length).toBeGreaterThanOrEqual(3);
      expect(text).toContain(rulebook.hash);
      const words = text.replace(/<script>[\s\S]*<\/script>/, '');
      expect(/undefined|NaN|\[object/.exec(words)).toBeNull();
    }
  });

  it('links only to what is in it, and names nothing twice', async () => {
    for (const text of await pages()) {
      const ids = [...text.matchAll(/\sid="([^"]+)"/g)].map(([, id]) => id);
      expect(new Set(ids).size).toBe(ids.length);
      for (const [, target] of text.matchAll(/href="#([^"]+)"/g)) expect(ids).toContain(target);
    }
  });
});

describe('the page of an evaluation', () => {
  it('holds every card word for word, and every rule with its tree closed', async () => {
    const { answers } = await evaluationNamed('demo-parkinson-steep-cup');
    const text = await evaluationHtml('demo-parkinson-steep-cup');
    for (const { answer } of answers) for (const { summary } of answer.cards) expect(text).toContain(summary);
    expect([...text.matchAll(/<details>/g)]).toHaveLength(rulebook.rules.length);
    expect(text).toMatch(/cup inclination clearly above 58°; found <strong>60°<\/strong>/);
    expect(text).toContain('limit: cup-inclination-published-high');
  });

  it('shows facts with where they came from and numbers with what they assume', async () => {
    const text = await evaluationHtml('demo-parkinson-steep-cup');
    expect(text).toMatch(/planned · 2 Nov 2026 · as found 60 deg · Observation\/planned-cup-inclination-3/);
    expect(text).toMatch(/7\.246933 mm[\s\S]*?head center in the opening plane of a 180° liner/);
    expect(text).toContain('doi:10.1007/s11999-015-4432-5');
  });
});

describe('the page of a trial', () => {
  it('shows failures with where the trees differ, and which edges are open', () => {
    const text = trialPage(trial, deferral);
    expect(text).toContain('2 of 3 test patients and cases pass');
    expect(text).toContain('cup-inclination above 58: false, found 58');
    // In the order of the columns: just below not asked, at covered, just above open.
    expect(text).toMatch(
      /not asked<\/span><\/td><td><span class="covered">covered<\/span><br><span class="quiet">edge-of-steep<\/span><\/td><td><span class="open">open</,
    );
    expect(text).toContain('three test patients &lt;in&gt; &quot;quotes&quot; &amp; more');
  });
});

describe('the page of a cohort', () => {
  it('has a table beside each picture with the same figures', async () => {
    const result = await smallCohort();
    const text = cohortPage(result, deferral);
    expect([...text.matchAll(/<svg[^>]*role="img" aria-labelledby/g)].length).toBeGreaterThan(3);
    for (const { title, outcomes } of result.missing)
      expect(text).toMatch(
        new RegExp(
          `<th scope="row">${title.replaceAll(/[()]/g, '\\$&')}</th><td class="number" data-value="${outcomes}">`,
        ),
      );
  });

  it('shows what stood in the cohort as text, whatever it was', async () => {
    const text = cohortPage(await smallCohort([{ where: HOSTILE, why: HOSTILE }]), deferral);
    expect(text).not.toContain('<script>alert');
    expect(text).toContain('&lt;script&gt;alert(1)&lt;/script&gt;&quot;&#39;&amp;');
  });
});

describe('a card on a page', () => {
  it('is the card’s words with their few marks, everything else as text', () => {
    const card: Pick<Card, 'summary' | 'detail' | 'indicator'> = {
      summary: HOSTILE,
      indicator: 'info',
      detail: `**Found** 5 < 6 ${HOSTILE}.\n\n*Who decides.*\n\nEvidence read:\n- one\n- **two**`,
    };
    const { text } = cardHtml(card);
    expect(text).not.toContain('<script>');
    expect(text).toContain('<p><strong>Found</strong> 5 &lt; 6 ');
    expect(text).toContain('<p><em>Who decides.</em></p>');
    expect(text).toContain('<p>Evidence read:</p><ul><li>one</li><li><strong>two</strong></li></ul>');
  });
});

import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { readableEvaluation } from '../../src/workbench/evaluate/readable.js';
import { cohortPage } from '../../src/workbench/report/cohort-page.js';
import { evaluationPage } from '../../src/workbench/report/evaluation-page.js';
import { readinessPage } from '../../src/workbench/readiness/readiness-page.js';
import { trialPage } from '../../src/workbench/report/trial-page.js';
import { rulebook } from '../advice/patients.js';
import { evaluationNamed } from '../workbench/evaluate/evaluations.js';
import { axeViolations } from './axe-violations.js';
import { CHROMIUM, launchChromium } from './chromium.js';
import { keepScreenshot } from './screenshot.js';
import { smallReadiness } from '../workbench/readiness/samples.js';
import { smallCohort, trial } from '../workbench/report/cohorts.js';

const { deferral } = rulebook.about;
const REPORTS = ['evaluation', 'cohort', 'trial', 'readiness'] as const;
type Report = (typeof REPORTS)[number];
const SCHEMES = ['light', 'dark'] as const;

async function reportText(report: Report): Promise<string> {
  switch (report) {
    case 'evaluation': {
      const { answers } = await evaluationNamed('demo-parkinson-steep-cup');
      return evaluationPage(
        readableEvaluation(answers, rulebook),
        'The Bundle is taken as the whole record.',
      );
    }
    case 'cohort':
      return cohortPage(await smallCohort(), deferral);
    case 'trial':
      return trialPage(trial, deferral);
    case 'readiness':
      return readinessPage(await smallReadiness(), deferral);
  }
}

describe.skipIf(CHROMIUM === undefined)('the reports in Chromium (KOTYLE_CHROMIUM)', () => {
  const folder = mkdtempSync(join(tmpdir(), 'kotyle-reports-'));
  let browser: Browser | undefined;

  beforeAll(async () => {
    for (const report of REPORTS) writeFileSync(join(folder, `${report}.html`), await reportText(report));
    browser = await launchChromium();
  }, 60_000);
  afterAll(async () => {
    await browser?.close();
  });

  /** A report opened from its file, with everything the browser complains of or asks for. */
  async function open(
    report: Report,
    settings: { readonly colorScheme?: 'light' | 'dark'; readonly width?: number } = {},
  ): Promise<{ readonly page: Page; readonly faults: string[]; readonly asked: string[] }> {
    if (!browser) throw new Error('no browser');
    const { colorScheme = 'light', width = 1100 } = settings;
    const context = await browser.newContext({ colorScheme, viewport: { width, height: 900 } });
    const page = await context.newPage();
    const faults: string[] = [];
    const asked: string[] = [];
    page.on('console', (message) => faults.push(message.text()));
    page.on('pageerror', (error) => faults.push(String(error)));
    page.on('request', (request) => asked.push(request.url()));
    await page.goto(pathToFileURL(join(folder, `${report}.html`)).href);
    return { page, faults, asked };
  }

  const cases = REPORTS.flatMap((report) => SCHEMES.map((scheme) => [report, scheme] as const));

  test.each(cases)(
    'the %s report is accessible and without an error in %s',
    async (report, colorScheme) => {
      const { page, faults, asked } = await open(report, { colorScheme });
      // The first of each group opened, so that what is folded away is looked at too.
      await page.evaluate("for (const one of document.querySelectorAll('h3 + details')) one.open = true");
      // Truth: axe-core's rules for WCAG 2.
      const violations = await axeViolations(page, colorScheme);
      const grave = violations.filter(({ impact }) => impact === 'serious' || impact === 'critical');
      expect(grave.map(({ id, nodes }) => [id, nodes.slice(0, 3).map(({ html }) => html)])).toEqual([]);
      expect(faults).toEqual([]);
      expect(asked).toEqual([page.url()]);
      await keepScreenshot(page, `report-${report}-${colorScheme}`);
      await page.context().close();
    },
    60_000,
  );

  test('light and dark differ in ground and ink', async () => {
    const grounds = await Promise.all(
      SCHEMES.map(async (colorScheme) => {
        const { page } = await open('cohort', { colorScheme });
        const style =
          'const { backgroundColor, color } = getComputedStyle(document.body); [backgroundColor, color]';
        const found = await page.evaluate<readonly string[]>(style);
        await page.context().close();
        return found;
      }),
    );
    expect(new Set(grounds.flat()).size).toBe(4);
  });

  test('a table sorts by a heading, numbers as numbers, and back', async () => {
    const { page } = await open('cohort');
    const table = page.locator('#missing table');
    const column = async (): Promise<readonly number[]> =>
      (await table.locator('tbody tr td:nth-child(3)').allTextContents()).map(Number);
    const before = await column();
    const button = table.getByRole('button', { name: 'Alone' });
    await button.click();
    expect(await column()).toEqual([...before].sort((a, b) => a - b));
    expect(await table.locator('th[aria-sort]').getAttribute('aria-sort')).toBe('ascending');
    await button.press('Enter');
    expect(await column()).toEqual([...before].sort((a, b) => b - a));
    expect(await table.locator('th[aria-sort]').getAttribute('aria-sort')).toBe('descending');
    await page.context().close();
  });

  test('says the same without scripts', async () => {
    if (!browser) throw new Error('no browser');
    const context = await browser.newContext({ javaScriptEnabled: false });
    const page = await context.newPage();
    await page.goto(pathToFileURL(join(folder, 'cohort.html')).href);
    expect(await page.locator('#missing tbody tr').count()).toBe((await smallCohort()).missing.length);
    expect(await page.locator('th button').count()).toBe(0);
    await context.close();
  });

  test.each(REPORTS)('the %s report fits a narrow screen and paper', async (report) => {
    const { page } = await open(report, { width: 380 });
    const overflow = 'document.documentElement.scrollWidth - document.documentElement.clientWidth';
    expect(await page.evaluate<number>(overflow)).toBe(0);
    await page.emulateMedia({ media: 'print' });
    const pdf = await page.pdf({ format: 'A4', printBackground: true });
    writeFileSync(join(folder, `${report}.pdf`), pdf);
    expect(pdf.subarray(0, 5).toString('latin1')).toBe('%PDF-');
    await page.context().close();
  });

  test('paper shows the trees that are folded on the screen', async () => {
    const { page } = await open('evaluation');
    const tree = page.locator('details .tree').first();
    expect(await tree.isVisible()).toBe(false);
    await page.emulateMedia({ media: 'print' });
    expect((await tree.boundingBox())?.height ?? 0).toBeGreaterThan(10);
    await page.context().close();
  });
});

import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { listen } from '../fhir-server/listening.js';
import type { Listening } from '../fhir-server/listening.js';
import { shipped } from '../rulebook/shipped.js';
import { testApp } from '../server/test-service.js';
import { axeViolations } from './axe-violations.js';
import { CHROMIUM, launchChromium } from './chromium.js';
import { keepScreenshot } from './screenshot.js';

const { version } = shipped.about;
/** A rule with numbers and options, one with effects and groups, one without a source, the list of all, and what is not there. */
const PAGES = [
  `${version}/cup-inclination-above-classical`,
  `${version}/neurological-disease`,
  `${version}/hip-side-conflict`,
  '',
  'no-such-rule',
];
const SCHEMES = ['light', 'dark'] as const;

describe.skipIf(CHROMIUM === undefined)('the evidence pages in Chromium (KOTYLE_CHROMIUM)', () => {
  const folder = mkdtempSync(join(tmpdir(), 'kotyle-evidence-'));
  let browser: Browser | undefined;
  let service: Listening | undefined;

  beforeAll(async () => {
    service = await listen(() => testApp());
    browser = await launchChromium();
  }, 60_000);
  afterAll(async () => {
    await browser?.close();
    await service?.stop();
  });

  /** A page as the service sends it, with everything the browser complains of or asks for. */
  async function open(
    path: string,
    settings: { readonly colorScheme?: 'light' | 'dark'; readonly width?: number } = {},
  ): Promise<{ readonly page: Page; readonly faults: string[]; readonly asked: string[] }> {
    if (!browser || !service) throw new Error('no browser');
    const { colorScheme = 'light', width = 1100 } = settings;
    const context = await browser.newContext({ colorScheme, viewport: { width, height: 900 } });
    const page = await context.newPage();
    const faults: string[] = [];
    const asked: string[] = [];
    page.on('console', (message) => faults.push(message.text()));
    page.on('pageerror', (error) => faults.push(String(error)));
    page.on('request', (request) => asked.push(request.url()));
    await page.goto(`${service.origin}/evidence/${path}`);
    return { page, faults, asked };
  }

  // One page of a rule has everything that has a color.
  const cases = PAGES.flatMap((path, index) =>
    SCHEMES.filter((scheme) => scheme === 'light' || index < 2).map((scheme) => [path, scheme] as const),
  );

  test.each(cases)(
    '“%s” is accessible in %s, under its policy, and asks for its stylesheet only',
    async (path, colorScheme) => {
      const { page, faults, asked } = await open(path, { colorScheme });
      // Truth: axe-core's rules for WCAG 2.
      const violations = await axeViolations(page, colorScheme);
      expect(violations.map(({ id, nodes }) => [id, nodes.slice(0, 3).map(({ html }) => html)])).toEqual([]);
      // That the page of a rule nobody has is missing is no fault of the page.
      expect(faults.filter((fault) => !fault.includes('404'))).toEqual([]);
      expect(asked).toEqual([page.url(), `${service?.origin ?? ''}/evidence/style.css`]);
      await keepScreenshot(page, `evidence-${path.split('/').at(-1) ?? ''}-${colorScheme}`);
      await page.context().close();
    },
    60_000,
  );

  test('the stylesheet is used: the policy lets it in', async () => {
    const { page } = await open(PAGES[0] ?? '');
    const maxWidth = await page.evaluate<string>("getComputedStyle(document.querySelector('main')).maxWidth");
    expect(maxWidth).not.toBe('none');
    await page.context().close();
  });

  test.each(PAGES)('“%s” fits a narrow screen and a sheet of A4', async (path) => {
    const { page } = await open(path, { width: 380 });
    const overflow = 'document.documentElement.scrollWidth - document.documentElement.clientWidth';
    expect(await page.evaluate<number>(overflow)).toBe(0);
    await page.emulateMedia({ media: 'print' });
    // Between the margins of the sheet; nothing may be cut off there.
    await page.setViewportSize({ width: 690, height: 1000 });
    const wide = "[...document.querySelectorAll('table')].filter((one) => one.scrollWidth > 690).length";
    expect(await page.evaluate<number>(wide)).toBe(0);
    const pdf = await page.pdf({ format: 'A4', preferCSSPageSize: true, printBackground: true });
    writeFileSync(join(folder, `${path.split('/').at(-1) ?? ''}.pdf`), pdf);
    expect(pdf.subarray(0, 5).toString('latin1')).toBe('%PDF-');
    await page.context().close();
  });

  test('the list leads to a page and the page back to the list', async () => {
    const { page } = await open('');
    await page.locator(`a[href="${version}/neurological-disease"]`).click();
    await page.waitForURL(`**/evidence/${version}/neurological-disease`);
    await page.locator('footer a').click();
    await page.waitForURL('**/evidence/');
    await page.context().close();
  });
});

import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import type { Page } from 'playwright-core';

/** A folder for pictures of whole pages, to be looked at; unset, none are taken, since each takes seconds. */
const FOLDER = process.env['KOTYLE_SCREENSHOTS'];

export async function keepScreenshot(page: Page, name: string): Promise<void> {
  if (FOLDER === undefined) return;
  mkdirSync(FOLDER, { recursive: true });
  await page.screenshot({ path: join(FOLDER, `${name}.png`), fullPage: true });
}

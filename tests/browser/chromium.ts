import { chromium, type Browser } from 'playwright-core';

/** A Chromium to run in; unset, tests that need one are skipped by name. CI sets it. */
export const CHROMIUM = process.env['KOTYLE_CHROMIUM'];

/** Starts it without anything that would call out. */
export function launchChromium(): Promise<Browser> {
  return chromium.launch({
    executablePath: CHROMIUM ?? '',
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
    ],
  });
}

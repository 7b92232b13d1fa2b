import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { SITE_FILE } from '../facts/sites.js';
import { bundleService } from './bundled-service.js';
import { startAndFail, startProcess } from './operations/service-process.js';

/** The service as a process of its own, on site files that decide what they may not, and on one whose days have passed. */

const folder = mkdtempSync(join(tmpdir(), 'kotyle-governed-'));
const site = join(folder, 'site.json');
let bundled = '';
beforeAll(async () => {
  bundled = await bundleService();
  cpSync(dirname(SITE_FILE), folder, { recursive: true });
}, 60_000);
afterAll(() => {
  rmSync(folder, { recursive: true });
  rmSync(bundled, { recursive: true });
});

function edited(from: string, to: string): string {
  const text = readFileSync(SITE_FILE, 'utf8');
  expect(text).toContain(from);
  writeFileSync(site, text.replaceAll(from, to));
  return site;
}

// Truth: integration decisions section 4: outside what is allowed the service refuses to start and says where.
describe('the service does not start', () => {
  it.each([
    [
      'a limit outside what the rulebook allows',
      '"value": 48',
      '"value": 60',
      'site.json at parameters.cup-inclination-upper-limit.value: expected a number from 45 to 55 deg, found 60',
    ],
    [
      'a locked rule turned off',
      '"precautions-and-bracing": {\n      "state": "silent"',
      '"hip-side-conflict": {\n      "state": "off"',
      'site.json at rules.hip-side-conflict.state: expected silent or speak, as no site can turn this rule off, found off',
    ],
    [
      'a member that stands twice',
      '"value": 48',
      '"value": 46, "value": 48',
      'site.json: expected object, found "one member twice in an object: value"',
    ],
  ])('with %s: file, path, expected and found are told', async (_what, from, to, fault) => {
    const { code, said } = await startAndFail(bundled, { KOTYLE_SITE: edited(from, to) });
    expect(code).toBe(1);
    expect(said).toContain('KOTYLE_SITE');
    expect(said).toContain(fault);
  });
});

describe('the service starts', () => {
  it('when a day has passed, and says in its log that the setting has ended', async () => {
    const path = edited('"until": "2027-05-01"', '"until": "2026-11-03"');
    const running = await startProcess(bundled, { KOTYLE_SITE: path });
    running.child.kill('SIGTERM');
    await running.ended;
    expect(running.log()).toContain('rules.precautions-and-bracing.until');
    expect(running.log()).toContain('2026-11-03, which has passed: the rulebook counts');
    expect(running.log()).toContain('"cup-inclination-upper-limit":{"value":48,"ended":false}');
  });
});

import { cpSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterAll, beforeEach, describe, expect, it } from 'vitest';
import { packText } from '../../src/rulebook-files/pack-file.js';
import { loadSite } from '../../src/rulebook-files/read-site.js';
import { signatureOf } from '../../src/rulebook/governance.js';
import { SITE_FILE } from '../facts/sites.js';
import { shipped, shippedPack } from '../rulebook/shipped.js';
import { kotyle } from './kotyle-io.js';
import type { Called } from './kotyle-io.js';

// Truth: integration decisions section 4: sign-off is data, by the hash of the content; any change voids it.

const root = mkdtempSync(join(tmpdir(), 'kotyle-sign-'));
const path = join(root, 'here', 'site.json');
afterAll(() => {
  rmSync(root, { recursive: true });
});
beforeEach(() => {
  cpSync(dirname(SITE_FILE), dirname(path), { recursive: true });
});

const WHO = ['--by', 'N. N.', '--role', 'clinical lead', '--date', '2026-11-20'];

async function sign(...more: readonly string[]): Promise<Called> {
  return await kotyle(['sign', '--site', path, ...WHO, ...more]);
}

const text = (): string => readFileSync(path, 'utf8');
const signature = (): string => signatureOf({ rulebook: shipped, site: loadSite(path, shipped) });

describe('kotyle sign', () => {
  it('tells what is signed: both hashes, what will speak, what was set and by whom, and that it is a draft', async () => {
    const { out, err, code } = await sign();
    const { hash } = loadSite(path, shipped);
    for (const told of [
      hash,
      shipped.hash,
      'draft, experimental',
      'no clinician has reviewed or signed these rules yet',
      'hip-stability-booking at appointment-book: silent, as set for the service',
      'hip-stability-order at order-sign: 61 of 62 rules; silent: precautions-and-bracing',
      "precautions-and-bracing: silent, until 2027-05-01 (the ward's own leaflet is being rewritten; hip team of North Campus, 2026-11-02)",
      'cup-inclination-upper-limit: 48 deg here, 50 in the rulebook, 45 to 55 allowed, until 2027-11-01',
      'N. N., clinical lead, 2026-11-20',
    ])
      expect(out).toContain(told);
    expect([err, code]).toEqual(['', 0]);
  });

  it('writes the approval, and every other byte of the file stays', async () => {
    const before = text();
    expect(signature()).toBe('none');
    await sign();
    expect(signature()).toBe('installation');
    const after = text();
    const [head = '', tail = ''] = before.split('"approvals": []');
    expect(tail).not.toBe('');
    expect(after.startsWith(head)).toBe(true);
    expect(after.endsWith(tail)).toBe(true);
    const { approvals } = JSON.parse(after) as { readonly approvals: readonly unknown[] };
    const { hash } = loadSite(path, shipped);
    const signatory = { by: 'N. N.', role: 'clinical lead', date: '2026-11-20' };
    // The rulebook's too, once: a later edit of the site leaves a service that starts and keeps silent.
    expect(approvals).toEqual([
      { ...signatory, contentHash: shipped.hash },
      { ...signatory, contentHash: hash },
    ]);
    expect(readdirSync(dirname(path)).sort()).toEqual(['maps', 'site.json']);
  });

  it.each([
    ['tabs', (file: string) => file.replaceAll('  ', '\t')],
    ['lines of another system', (file: string) => file.replaceAll('\n', '\r\n')],
    ['four blanks', (file: string) => file.replaceAll('  ', '    ')],
    ['no approvals yet', (file: string) => file.replace('  "approvals": [],\n', '')],
    ['everything on one line', (file: string) => JSON.stringify(JSON.parse(file))],
  ])('signs a file written with %s', async (_what, rewrite) => {
    writeFileSync(path, rewrite(text()));
    const before = JSON.parse(text()) as object;
    expect((await sign()).code).toBe(0);
    expect(signature()).toBe('installation');
    expect(JSON.parse(text())).toMatchObject({ ...before, approvals: [{}, {}] });
  });

  it('writes nothing on a dry run', async () => {
    const before = text();
    const { out, code } = await sign('--dry-run');
    expect(out).toContain('nothing was written');
    expect([text(), code]).toEqual([before, 0]);
  });

  it('adds a second signatory, and nothing for one who has signed already', async () => {
    await sign();
    const once = text();
    expect((await sign()).out).toContain('signed already by the same person');
    expect(text()).toBe(once);
    await kotyle([
      'sign',
      '--site',
      path,
      '--by',
      'M. M.',
      '--role',
      'head of surgery',
      '--date',
      '2026-11-21',
    ]);
    const { approvals } = JSON.parse(text()) as { readonly approvals: readonly { readonly by: string }[] };
    expect(approvals.map(({ by }) => by)).toEqual(['N. N.', 'N. N.', 'M. M.']);
  });

  it.each([
    [
      'the site file',
      'site.json',
      '"surgical-approach": "posterior"',
      '"surgical-approach": "direct-lateral"',
    ],
    ['a map', 'maps/orders.json', '"active"', '"draft"'],
  ])('signs anew after an edit of %s, which voided what was signed', async (_what, file, from, to) => {
    await sign();
    const edited = join(dirname(path), file);
    const before = readFileSync(edited, 'utf8');
    expect(before).toContain(from);
    writeFileSync(edited, before.replace(from, to));
    // The rulebook was approved and still is; the installation is another.
    expect(signature()).toBe('rulebook');
    await sign();
    expect(signature()).toBe('installation');
  });

  it('signs beside a released pack as beside the rules it was made of', async () => {
    const pack = join(root, 'pack.json');
    writeFileSync(pack, packText(shippedPack));
    expect((await sign('--pack', pack)).code).toBe(0);
    expect(signature()).toBe('installation');
  });

  it('is one JSON document for programs', async () => {
    const { out } = await sign('--json', '--dry-run');
    const told = JSON.parse(out) as Readonly<Record<string, unknown>>;
    expect(told).toMatchObject({
      written: false,
      governance: { signature: 'installation', rulebook: { hash: shipped.hash } },
      added: [{ contentHash: shipped.hash }, {}],
    });
  });

  it.each<[string, readonly string[], RegExp]>([
    ['no site file', ['sign', ...WHO], /--site: expected a site file/],
    ['nobody who signs', ['sign', '--site', path, '--role', 'x', '--date', '2026-11-20'], /--by/],
    [
      'a blank name',
      ['sign', '--site', path, '--by', ' ', '--role', 'x', '--date', '2026-11-20'],
      /--by: expected a text/,
    ],
    [
      'a day that is none',
      ['sign', '--site', path, '--by', 'x', '--role', 'x', '--date', '2026-02-30'],
      /--date: expected a day/,
    ],
    [
      'a day to come',
      ['sign', '--site', path, '--by', 'x', '--role', 'x', '--date', '2999-01-01'],
      /--date: expected today or an earlier day/,
    ],
    ['two rulebooks', ['sign', '--site', path, ...WHO, '--pack', 'a', '--rules', 'b'], /--pack and --rules/],
  ])('ends with 2 at %s, and writes nothing', async (_what, args, message) => {
    const before = text();
    const { out, err, code } = await kotyle(args);
    expect(err).toMatch(message);
    expect([out, code, text()]).toEqual(['', 2, before]);
  });

  it('signs no site with a fault, and says where', async () => {
    writeFileSync(path, text().replace('"value": 48', '"value": 60'));
    const before = text();
    const { err, code } = await sign();
    expect(err).toContain(
      'site.json at parameters.cup-inclination-upper-limit.value: expected a number from 45 to 55 deg, found 60',
    );
    expect([code, text()]).toEqual([2, before]);
  });

  it('signs no file in which a member stands twice: it could be meant either way', async () => {
    writeFileSync(path, text().replace('"version":', '"services": {}, "version":'));
    const { err, code } = await sign();
    expect(err).toContain('one member twice in an object: services');
    expect(code).toBe(2);
  });
});

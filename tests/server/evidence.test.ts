import { mkdirSync, mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import request from 'supertest';
import { describe, expect, it } from 'vitest';
import { evidenceHtml } from '../../src/render/evidence/evidence-html.js';
import { evidencePage } from '../../src/render/evidence/evidence-page.js';
import type { PackFile } from '../../src/rulebook/pack.js';
import type { Rule, Rulebook } from '../../src/rulebook/types.js';
import { packText } from '../../src/rulebook-files/pack-file.js';
import { releasedRulebooks } from '../../src/server/released-rulebooks.js';
import { northCampus } from '../facts/sites.js';
import { shipped } from '../rulebook/shipped.js';
import { problem, testApp } from './test-service.js';
import type { Reply } from './test-service.js';

const app = testApp({ publicUrl: 'https://hip.example' });
const { version } = shipped.about;
const RULE = 'cup-inclination-above-classical';
const HTML = { Accept: 'text/html' };

async function get(path: string, headers: Readonly<Record<string, string>> = HTML): Promise<Reply> {
  return await request(app).get(path).set(headers);
}

describe('the evidence page of a rule', () => {
  it('is HTML that runs nothing and asks only for its own stylesheet', async () => {
    const page = await get(`/evidence/${version}/${RULE}`);
    expect(page.status).toBe(200);
    expect(page.headers['content-type']).toMatch(/^text\/html; charset=utf-8/);
    const policy = page.headers['content-security-policy'] ?? '';
    expect(policy).toContain("default-src 'none'");
    expect(policy).toContain("style-src 'self'");
    expect(policy).not.toContain('script-src');
    expect(page.text).not.toMatch(/<script|\son\w+=|style="|javascript:/i);
    expect([...page.text.matchAll(/(?:src|href)="([^"#]*)"/g)].map(([, target]) => target)).toEqual([
      '../style.css',
      '../',
    ]);
  });

  it('is reached by the rule alone, whichever rulebook is in force', async () => {
    const reply = await get(`/evidence/${RULE}`);
    expect([reply.status, reply.headers['location']]).toEqual([307, `${version}/${RULE}`]);
  });

  it('needs no token, and shows nothing of whoever asks', async () => {
    const page = await get(`/evidence/${version}/${RULE}?patient=Miller`, { ...HTML, Cookie: 'a=Miller' });
    expect(page.status).toBe(200);
    expect(page.text).not.toContain('Miller');
  });

  it('is there for every rule', async () => {
    for (const { id, title } of shipped.rules) {
      const page = await get(`/evidence/${version}/${id}`);
      expect(page.status, id).toBe(200);
      expect(page.text).toContain(escaped(title));
    }
  });

  it('tells what the installation decided about the rule, and not who decided it', async () => {
    const site = {
      ...northCampus,
      parameters: new Map([
        [
          'cup-inclination-upper-limit',
          {
            value: 48,
            unit: 'deg',
            why: 'our own films',
            by: 'Dr Miller',
            date: '2026-11-01',
            until: '2027-05-01',
          },
        ],
      ]),
    };
    const own = await request(testApp({ installation: site })).get(`/evidence/${version}/${RULE}`);
    expect(own.text).toContain('48° in place of 50°, until 2027-05-01: our own films');
    expect(own.text).not.toContain('Miller');
    expect((await get(`/evidence/${version}/${RULE}`)).text).not.toContain('What this installation decided');
  });
});

function escaped(text: string): string {
  return text.replaceAll('&', '&amp;').replaceAll("'", '&#39;').replaceAll('"', '&quot;');
}

describe('a page of another version', () => {
  it('is shown where that version is shipped, and says what is in force', () => {
    // What is shipped of earlier versions are packs; this one holds the rules of today under another number.
    const root = mkdtempSync(join(tmpdir(), 'kotyle-releases-'));
    mkdirSync(join(root, 'releases'));
    const files = shipped.pack.files.map((file) => (file.path === 'rulebook.json' ? renamed(file) : file));
    writeFileSync(join(root, 'releases', '2025.1.0.json'), packText({ files }));
    const released = releasedRulebooks(root);
    expect(released.rulebook('2025.1.0')?.about.version).toBe('2025.1.0');
    const html = evidenceHtml(evidencePage(ruleOf(released.rulebook('2025.1.0')), shipped, '0.2.0'), {
      rulebook: released.rulebook('2025.1.0') ?? shipped,
      replacedBy: shipped.about.label,
    });
    expect(html).toContain(`Of an earlier rulebook. In force is ${shipped.about.label}.`);
    expect(released.hadFile('advisories', 'neurological-disease')).toBe(true);
    expect(released.hadFile('advisories', 'no-such-rule')).toBe(false);
    // One byte changed, and it is no release.
    writeFileSync(join(root, 'releases', '2025.1.1.json'), packText({ files }).replace('neuro', 'meuro'));
    expect(released.rulebook('2025.1.1')).toBeUndefined();
    expect(released.rulebook('../../package')).toBeUndefined();
  });

  it('is gone where it is not, with words for a person and an outcome for a program', async () => {
    const page = await get('/evidence/2020.1.0/neurological-disease');
    expect(page.status).toBe(410);
    expect(page.text).toContain('not shipped with this program');
    problem(
      await get('/evidence/2020.1.0/neurological-disease', {
        Accept: 'application/json, application/fhir+json',
      }),
      410,
    );
  });

  it('is unknown where there is no such rule or no such version', async () => {
    for (const path of [
      `${version}/no-such-rule`,
      'no-such-rule',
      'latest/neurological-disease',
      '..%2f..%2fetc/passwd',
    ]) {
      const page = await get(`/evidence/${path}`);
      expect(page.status, path).toBe(404);
      expect(page.text).toContain('<h1>No such rule</h1>');
    }
    problem(await get('/evidence/a/b/c'), 404);
    problem(await request(app).post('/evidence/'), 405);
  });
});

function renamed({ path, content }: PackFile): PackFile {
  return {
    path,
    content: { ...(content as object), version: '2025.1.0', label: 'Kotyle rulebook 2025.1.0' },
  };
}

function ruleOf(rulebook: Rulebook | undefined): Rule {
  const rule = rulebook?.rules.find(({ id }) => id === RULE);
  if (!rule) throw new Error('no such rule');
  return rule;
}

describe('[D14] the documentation of the service', () => {
  it('tells each hook and service, what silence means, and links to every rule', async () => {
    const page = await get('/evidence/');
    expect(page.status).toBe(200);
    for (const hook of ['appointment-book', 'order-select', 'order-sign', 'patient-view'])
      expect(page.text).toContain(`<code>${hook}</code>`);
    expect(page.text).toContain('What silence means');
    expect(page.text).toContain('No card is not clearance');
    const links = [...page.text.matchAll(/href="([^"#]*)"/g)].map(([, target = '']) => target);
    expect(links.filter((link) => link !== 'style.css').sort()).toEqual(
      shipped.rules.map(({ id }) => `${version}/${id}`).sort(),
    );
  });

  it('is linked from every service of the discovery document', async () => {
    const { services } = JSON.parse((await get('/cds-services')).text) as {
      readonly services: readonly {
        readonly extension: Readonly<Record<string, Readonly<Record<string, unknown>>>>;
      }[];
    };
    expect(services.length).toBeGreaterThan(3);
    for (const { extension } of services)
      expect(extension['example.kotyle.service']?.['documentation']).toBe('https://hip.example/evidence/');
  });

  it('is linked from none where nobody said how the service is reached', async () => {
    const reply = await request(testApp()).get('/cds-services');
    expect(reply.text).not.toContain('documentation');
  });

  it('is found without its last slash too, behind any path', async () => {
    const reply = await get('/evidence');
    expect([reply.status, reply.headers['location']]).toEqual([308, 'evidence/']);
    const below = testApp({ publicUrl: 'https://hip.example/kotyle' });
    expect((await request(below).get('/kotyle/evidence/')).status).toBe(200);
    expect((await request(below).get('/kotyle/evidence/style.css')).headers['content-type']).toMatch(
      /^text\/css/,
    );
  });
});

import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { prefetchTemplates, SERVICES } from '../../../src/advice/index.js';
import { parseSite } from '../../../src/rulebook/site.js';
import { loadClients } from '../../../src/server/auth/clients-file.js';
import { readConfig } from '../../../src/server/config.js';
import { newAdmission } from '../../../src/server/operations/admission.js';
import { newMetrics } from '../../../src/server/operations/metrics.js';
import { rulebook } from '../../advice/patients.js';

const server = (name: string): string =>
  readFileSync(fileURLToPath(new URL(`../../../src/server/${name}`, import.meta.url)), 'utf8');
const guide = server('DEPLOYMENT.md');

/** The cells of every row of a table that begins with a setting. */
const settings = [...guide.matchAll(/^\| `(KOTYLE_\w+)`\s*\|([^|]*)\|/gm)].map(
  ([, name = '', value = '']) => ({
    name,
    default: /^`(.*)`$/.exec(value.trim())?.[1],
  }),
);

function blocks(language: string): readonly string[] {
  return [...guide.matchAll(new RegExp(`\`\`\`${language}\\n([\\s\\S]*?)\`\`\``, 'g'))].map(
    ([, text = '']) => text,
  );
}

/** The name of a member of the configuration: KOTYLE_TOKEN_SKEW_S is tokenSkewS. */
function memberOf(setting: string): string {
  const words = setting.replace('KOTYLE_', '').toLowerCase().split('_');
  return words
    .map((word, at) => (at === 0 ? word : `${word.charAt(0).toUpperCase()}${word.slice(1)}`))
    .join('');
}

describe('the deployment guide', () => {
  it('has every setting in its table, once, and none that does not exist', () => {
    const read = [...new Set(server('config.ts').match(/KOTYLE_[A-Z_]+(?=:)/g))].sort();
    expect(settings.map(({ name }) => name).sort()).toEqual(read);
  });

  for (const { name, default: stated } of settings)
    it(`states the default of ${name}`, () => {
      const found = (readConfig({}) as unknown as Readonly<Record<string, unknown>>)[memberOf(name)];
      if (stated !== undefined) expect(String(found)).toBe(stated);
      else expect(found ?? []).toEqual([]);
    });

  it('asks for reading of exactly the types that the templates read', () => {
    const types = SERVICES.flatMap((service) => Object.values(prefetchTemplates(service, rulebook)))
      .concat(
        SERVICES.flatMap((service) =>
          Object.values(prefetchTemplates({ ...service, keys: service.laterKeys }, rulebook)),
        ),
      )
      .map((template) => /^[A-Za-z]+/.exec(template)?.[0]);
    const wanted = [...new Set(types)].sort();
    const scopes = (suffix: string): readonly (string | undefined)[] =>
      [...guide.matchAll(new RegExp(`user/(\\w+)\\.${suffix}\\b`, 'g'))].map(([, type]) => type);
    expect(scopes('read')).toEqual(wanted);
    expect(scopes('rs')).toEqual(wanted);
    // The service never writes.
    expect(guide).not.toMatch(/\b(?:user|patient|system)\/\w+\.(?:write|\*|[rs]*[cud][crsud]*)\b/);
  });

  it('shows a clients file and a site file that are taken as they stand', () => {
    const folder = mkdtempSync(join(tmpdir(), 'kotyle-guide-'));
    const [site, clients] = blocks('json');
    const path = join(folder, 'clients.json');
    writeFileSync(path, clients ?? '');
    expect(loadClients(path).map(({ iss }) => iss)).toEqual(['https://ehr.hospital.example']);
    rmSync(folder, { recursive: true });
    const read = parseSite([{ path: 'site.json', content: JSON.parse(site ?? '') as unknown }], rulebook);
    expect(read.ok).toBe(true);
  });

  it('names counts that are there', async () => {
    const metrics = newMetrics();
    metrics.watchProcess();
    newAdmission(readConfig({}), metrics);
    const text = await metrics.text();
    const named = [...new Set(guide.match(/\b(?:kotyle|nodejs|process)_[a-z0-9_]+(?=`)/g))];
    expect(named.length).toBeGreaterThan(10);
    for (const name of named) expect(text, name).toMatch(new RegExp(`^# TYPE ${name} `, 'm'));
  });

  it('names verbs of the command that are there', () => {
    const folder = fileURLToPath(new URL('../../../src/cli/verbs', import.meta.url));
    const verbs = new Set(readdirSync(folder).map((file) => file.replace('.ts', '')));
    const named = [...new Set([...guide.matchAll(/kotyle ([a-z]+)(?=[ `])/g)].map(([, verb = '']) => verb))];
    expect(named.length).toBeGreaterThan(4);
    expect(named.filter((verb) => !verbs.has(verb))).toEqual([]);
  });
});

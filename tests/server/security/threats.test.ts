import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { threatModelSchema } from '../../../src/workbench/threats/threat-schema.js';
import { threatsPage } from '../../../src/workbench/threats/threats-page.js';
import { titlesIn } from '../../rulebook/test-titles.js';

const ROOT = fileURLToPath(new URL('../../../', import.meta.url));
const model = threatModelSchema.parse(
  JSON.parse(readFileSync(join(ROOT, 'src/server/threats.json'), 'utf8')),
);
const threats = model.sources.flatMap((source) => source.threats);

describe('the threat model', () => {
  it('[S16] names the six risks of the specification and the ten of OWASP, each once', () => {
    // CDS Hooks, Security and Safety; OWASP API Security Top 10, 2023.
    expect(threats.map(({ id }) => id)).toEqual([
      ...[1, 2, 3, 4, 5, 6].map((number) => `CDS-${number}`),
      ...Array.from({ length: 10 }, (_unused, index) => `API${index + 1}`),
    ]);
    const owasp = threats.filter(({ id }) => id.startsWith('API')).map(({ name }) => name);
    expect(owasp).toEqual([
      'Broken Object Level Authorization',
      'Broken Authentication',
      'Broken Object Property Level Authorization',
      'Unrestricted Resource Consumption',
      'Broken Function Level Authorization',
      'Unrestricted Access to Sensitive Business Flows',
      'Server Side Request Forgery',
      'Security Misconfiguration',
      'Improper Inventory Management',
      'Unsafe Consumption of APIs',
    ]);
  });

  it('names only tests that exist under exactly that name, once in their file', () => {
    const known = new Map<string, readonly string[] | undefined>();
    const unheld = threats.flatMap(({ id, controls }) =>
      controls
        .flatMap(({ tests }) => tests)
        .flatMap(({ file, name }) => {
          if (!known.has(file)) known.set(file, titlesIn(join(ROOT, file)));
          const found = known.get(file)?.filter((title) => title === name).length;
          return found === 1 ? [] : [`${id}: ${found ?? 'no file'} of "${name}" in ${file}`];
        }),
    );
    expect(unheld).toEqual([]);
  });

  it('is written out as a page that is not stale: `npm run threats` writes it anew', () => {
    expect(threatsPage(model)).toBe(readFileSync(join(ROOT, 'src/server/THREATS.md'), 'utf8'));
  });
});

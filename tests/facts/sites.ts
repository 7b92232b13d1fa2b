import { fileURLToPath } from 'node:url';
import type { SiteMaps } from '../../src/facts/site-map-index.js';
import { translateLocated } from '../../src/facts/translate-located.js';
import { bundleEntries } from '../../src/fhir/bundle.js';
import { asObject } from '../../src/fhir/json.js';
import { formatIssue } from '../../src/rulebook/pack.js';
import type { PackFile } from '../../src/rulebook/pack.js';
import { parseSite } from '../../src/rulebook/site.js';
import type { Site } from '../../src/rulebook/site.js';
import { readSite } from '../../src/rulebook-files/read-site.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { shipped } from '../rulebook/shipped.js';

/** An invented hospital with its own codes for everything. */
export const SITE_FILE = fileURLToPath(
  new URL('../../fixtures/sites/north-campus/site.json', import.meta.url),
);
export const siteFiles: readonly PackFile[] = readSite(SITE_FILE);
export const northCampus: Site = siteOf(siteFiles);

export const ORDERS = 'https://codes.example/orders';
export const VISITS = 'https://codes.example/visits';
export const MEASURES = 'https://codes.example/measures';
export const ANSWERS = 'https://codes.example/answers';
export const SITES = 'https://codes.example/sites';
export const PROBLEMS = 'https://codes.example/problems';

/** A site from its files; throws with its faults when it has any. */
export function siteOf(files: readonly PackFile[]): Site {
  const result = parseSite(files, shipped);
  if (result.ok) return result.site;
  throw new Error(result.issues.map(formatIssue).join('\n'));
}

/** A ConceptMap with one group, and the file of a site that names it alone. */
export function mapOf(source: string, target: string, ...element: readonly JsonObject[]): JsonObject {
  return { resourceType: 'ConceptMap', status: 'active', group: [{ source, target, element }] };
}

export function filesWith(...maps: readonly unknown[]): readonly PackFile[] {
  const files = maps.map((content, index) => ({ path: `maps/${index}.json`, content }));
  const site = { id: 'test-site', version: '1', maps: files.map(({ path }) => path) };
  return [{ path: 'site.json', content: site }, ...files];
}

export function mapsWith(...maps: readonly unknown[]): SiteMaps {
  return siteOf(filesWith(...maps)).maps;
}

/** One line: a local code, its target, and what more the target says. */
export function line(code: string, target: string, more: JsonObject = {}): JsonObject {
  return { code, target: [{ code: target, equivalence: 'equivalent', ...more }] };
}

export function products(fixed: Readonly<Record<string, string>>): JsonObject {
  return { product: Object.entries(fixed).map(([property, value]) => ({ property, value })) };
}

interface CallContent {
  readonly context: JsonObject;
  readonly prefetch: JsonObject;
}

/** Context and prefetch of a call with every resource translated: what reading does at its entrance. */
export function translatedCall(
  call: CallContent,
  maps: SiteMaps,
): CallContent & { readonly changed: number } {
  let changed = 0;
  const members = (given: JsonObject): JsonObject =>
    Object.fromEntries(
      Object.entries(given).map(([name, value]) => {
        const bundle = asObject(value);
        if (bundle?.['resourceType'] !== 'Bundle') return [name, value];
        const entry = bundleEntries(bundle).map((located) => {
          const { fullUrl, resource, translation } = translateLocated(located, maps);
          if (translation) changed += 1;
          return { ...(fullUrl !== undefined && { fullUrl }), resource };
        });
        return [name, { ...bundle, entry }];
      }),
    );
  return { context: members(call.context), prefetch: members(call.prefetch), changed };
}

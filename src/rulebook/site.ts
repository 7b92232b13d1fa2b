import { contentHash } from '../base/hash.js';
import { compareText, sortedUnique } from '../base/order.js';
import { isMeasure } from '../facts/map-kinds.js';
import type { SiteDefault } from '../facts/site-defaults.js';
import type { SiteMaps } from '../facts/site-map-index.js';
import type { Report } from './check-rules.js';
import { readConceptMaps } from './concept-maps.js';
import type { PackFile, RulebookIssue } from './pack.js';
import { parseFile } from './parse.js';
import type { Parsed } from './parse.js';
import { readDefaults } from './site-defaults.js';
import { readGovernance } from './site-governance.js';
import type { SiteGovernance } from './site-governance.js';
import { conceptMapSchema, siteSchema } from './site-schema.js';
import type { ConceptMapFile, SiteFile } from './site-schema.js';
import type { Rulebook } from './types.js';

/** One installation beside the rulebook: its codes, choices, sources, readers and decisions. Plain data, immutable. */
export interface Site extends SiteGovernance {
  readonly id: string;
  readonly version: string;
  /**
   * Over the rulebook, the site file without its approvals, and the maps: what is signed. Stands in every evaluation
   * beside the rulebook's.
   */
  readonly hash: string;
  readonly maps: SiteMaps;
  /** The maps as the site wrote them, by their path: what is published of them. */
  readonly conceptMaps: readonly Parsed<ConceptMapFile>[];
  /** `system|code` of local measures, sorted: what the record is to be asked for beside our own. */
  readonly measureCodes: readonly string[];
  /** Cards shown at most, by hook, where the site shows fewer than shipped. */
  readonly ceiling: ReadonlyMap<string, number>;
  readonly sources: { readonly absent: readonly string[]; readonly recorded: readonly string[] };
  /** Planned facts for what this site usually does, each marked as assumed. */
  readonly defaults: readonly SiteDefault[];
  /** Roles that may see a service's cards, by service; everybody where none is listed. */
  readonly audience: ReadonlyMap<string, readonly string[]>;
}

export type SiteResult =
  | { readonly ok: true; readonly site: Site }
  | { readonly ok: false; readonly issues: readonly RulebookIssue[] };

/**
 * Checks a site against the rulebook it stands beside. The first file is the site file, the others are the maps it
 * names. Refuses the whole on any fault: half a site would be a silent change of what is said.
 */
export function parseSite(files: readonly PackFile[], rulebook: Rulebook): SiteResult {
  const issues: RulebookIssue[] = [];
  const report: Report = (file, path, expected, found) => issues.push({ file, path, expected, found });
  const [first = { path: 'site file', content: undefined }, ...others] = files;
  const { parsed, issues: faults } = parseFile(first, siteSchema);
  issues.push(...faults);
  if (parsed) checkSite(parsed, others, rulebook, report);
  const read = others.map((file) => parseFile(file, conceptMapSchema));
  issues.push(...read.flatMap((map) => map.issues));
  const conceptMaps = read.flatMap((map) => map.parsed ?? []);
  const maps = readConceptMaps(conceptMaps, rulebook, report);
  const checked = parsed && {
    maps,
    conceptMaps,
    defaults: readDefaults(parsed, rulebook, report),
    ...readGovernance(parsed, rulebook, report),
  };
  if (!checked || issues.length > 0) return { ok: false, issues: sorted(issues) };
  return { ok: true, site: siteOf(parsed.value, installationHash(rulebook, first, others), checked) };
}

function siteOf(
  value: SiteFile,
  hash: string,
  read: Pick<Site, 'maps' | 'conceptMaps' | 'defaults' | keyof SiteGovernance>,
): Site {
  const { id, version, ceiling = {}, sources, audience = {} } = value;
  return {
    id,
    version,
    hash,
    ...read,
    measureCodes: sortedUnique(
      [...read.maps.measures].flatMap(([system, codes]) =>
        [...codes.keys()].map((code) => `${system}|${code}`),
      ),
    ),
    ceiling: new Map(
      Object.entries(ceiling).flatMap(([hook, most]) =>
        typeof most === 'number' ? [[hook, most] as const] : [],
      ),
    ),
    sources: {
      absent: sortedUnique(sources?.absent ?? []),
      recorded: sortedUnique(sources?.recorded ?? []),
    },
    audience: new Map(
      Object.entries(audience).flatMap(([service, roles]) =>
        roles === undefined ? [] : [[service, sortedUnique(roles)] as const],
      ),
    ),
  };
}

/**
 * The name of an installation's content: its rulebook, the site file wherever it stands, and its maps in whatever order
 * they came. Approvals are about this content and no part of it, so that signing voids no signature.
 */
function installationHash({ hash }: Rulebook, site: PackFile, maps: readonly PackFile[]): string {
  const members = Object.entries(site.content as object).filter(([name]) => name !== 'approvals');
  return contentHash({
    rulebook: hash,
    site: Object.fromEntries(members),
    maps: [...maps].sort((a, b) => compareText(a.path, b.path)),
  });
}

/** What this version knows to ask a record for: types of resource, and the keys under which they are asked. */
const SOURCES: ReadonlySet<string> = new Set([
  ...['Patient', 'PractitionerRole', 'Encounter', 'Condition', 'Procedure', 'Observation', 'Device'],
  ...['DeviceUseStatement', 'ServiceRequest', 'DeviceRequest', 'QuestionnaireResponse', 'Appointment'],
  ...['patient', 'user', 'encounter', 'conditions', 'procedures', 'measures', 'observations', 'devices'],
  ...[
    'deviceUses',
    'serviceRequests',
    'deviceRequests',
    'questionnaireResponses',
    'appointments',
    'localMeasures',
  ],
]);

function checkSite(
  { file, value }: Parsed<SiteFile>,
  maps: readonly PackFile[],
  rulebook: Rulebook,
  report: Report,
): void {
  const { rulebook: named, sources } = value;
  if (named && named.version !== rulebook.about.version)
    report(file, 'rulebook.version', rulebook.about.version, named.version);
  if (named && named.hash !== rulebook.hash) report(file, 'rulebook.hash', rulebook.hash, named.hash);
  checkMaps(file, value.maps ?? [], maps, report);
  for (const [index, source] of (sources?.absent ?? []).entries())
    if (!SOURCES.has(source))
      report(file, `sources.absent[${index}]`, 'a resource type or prefetch key', source);
  const measures = new Set(rulebook.facts.filter(isMeasure).map(({ id }) => id));
  for (const [index, id] of (sources?.recorded ?? []).entries())
    if (!measures.has(id)) report(file, `sources.recorded[${index}]`, 'a measure of the rulebook', id);
}

function checkMaps(file: string, named: readonly string[], maps: readonly PackFile[], report: Report): void {
  const given = new Set(maps.map(({ path }) => path));
  for (const [index, path] of named.entries()) {
    if (!given.has(path)) report(file, `maps[${index}]`, 'a file that was read', path);
    if (named.indexOf(path) !== index) report(file, `maps[${index}]`, 'each map once', path);
  }
  for (const { path } of maps) if (!named.includes(path)) report(file, 'maps', `the map ${path}`, 'none');
}

function sorted(issues: readonly RulebookIssue[]): readonly RulebookIssue[] {
  return [...issues].sort(
    (a, b) =>
      compareText(a.file, b.file) ||
      compareText(a.path, b.path) ||
      compareText(a.expected, b.expected) ||
      compareText(a.found, b.found),
  );
}

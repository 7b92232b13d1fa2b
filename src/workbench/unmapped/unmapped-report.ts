import { compareText } from '../../base/order.js';
import { ICD_10_CM, ICD_10_PCS, SNOMED_CT } from '../../fhir/codings.js';
import type { CodeIndex, SiteMaps } from '../../facts/site-map-index.js';
import type { UnmappedCoding } from '../../facts/unmapped.js';
import type { Site } from '../../rulebook/site.js';
import type { Rulebook } from '../../rulebook/types.js';
import { wantedAt } from './wanted-line.js';
import type { WantedLine } from './wanted-line.js';

/** A coding nothing understood: where it stood, how often, and which line of a map would make it understood. */
export interface UnmappedRow {
  readonly resourceType: string;
  readonly element: string;
  readonly system: string;
  readonly code: string;
  readonly count: number;
  /** Left out where no map is looked at, and for published codes, most of which need none. */
  readonly wants?: WantedLine;
  /** The site's maps have this code: it was met before they did, or where they do not count. */
  readonly isMappedNow?: true;
}

/** What was not understood, the most frequent first. Never a text of a record. */
export interface UnmappedReport {
  /** Codes of the installation's own systems: what a site's maps are for. */
  readonly local: readonly UnmappedRow[];
  /** Codes of published systems that no rule reads; most have nothing to do with a hip. */
  readonly published: readonly UnmappedRow[];
  /** Codes without a system and words in the place of codes: no map can name them. */
  readonly nameless: readonly UnmappedRow[];
}

const PUBLISHED: ReadonlySet<string> = new Set([
  SNOMED_CT,
  ICD_10_CM,
  ICD_10_PCS,
  'http://hl7.org/fhir/sid/icd-10',
  'http://hl7.org/fhir/sid/icd-9-cm',
  'http://loinc.org',
  'http://www.ama-assn.org/go/cpt',
  'http://www.nlm.nih.gov/research/umls/rxnorm',
]);
const PUBLISHED_UNDER = ['http://terminology.hl7.org/', 'http://hl7.org/fhir/'] as const;

/** Sorts what was not understood by what can be done about it. */
export function unmappedReport(
  codings: readonly UnmappedCoding[],
  { rulebook, site }: { readonly rulebook: Rulebook; readonly site?: Site },
): UnmappedReport {
  const rows = codings
    .map((coding): UnmappedRow => {
      const wants = isPublished(coding) ? undefined : wantedAt(coding, rulebook.knowledge);
      return {
        ...coding,
        ...(wants && { wants }),
        ...(site && isMapped(coding, site.maps) && { isMappedNow: true as const }),
      };
    })
    .sort(byCount);
  return {
    local: rows.filter((row) => !isNameless(row) && !isPublished(row)),
    published: rows.filter((row) => !isNameless(row) && isPublished(row)),
    nameless: rows.filter(isNameless),
  };
}

function isPublished({ system }: UnmappedCoding): boolean {
  return PUBLISHED.has(system) || PUBLISHED_UNDER.some((base) => system.startsWith(base));
}

/** Words in the place of a code, and codes of which nobody says whose they are. */
function isNameless({ system, code }: UnmappedCoding): boolean {
  return system === '-' || [system, code].some((text) => text.startsWith('('));
}

function isMapped({ system, code }: UnmappedCoding, maps: SiteMaps): boolean {
  const { operations, visits, conditions, measures, components, values, sides } = maps;
  const indexes: readonly CodeIndex<unknown>[] = [
    operations,
    visits,
    conditions,
    measures,
    components,
    values,
    sides,
  ];
  return indexes.some((index) => index.get(system)?.has(code) === true);
}

function byCount(a: UnmappedRow, b: UnmappedRow): number {
  return (
    b.count - a.count ||
    compareText(a.resourceType, b.resourceType) ||
    compareText(a.element, b.element) ||
    compareText(a.system, b.system) ||
    compareText(a.code, b.code)
  );
}

import { describe, expect, it } from 'vitest';
import { readConceptMaps } from '../../../src/rulebook/concept-maps.js';
import { parseFile } from '../../../src/rulebook/parse.js';
import { conceptMapSchema } from '../../../src/rulebook/site-schema.js';
import type { ConceptMapFile } from '../../../src/rulebook/site-schema.js';
import type { UnmappedCoding } from '../../../src/facts/unmapped.js';
import { unmappedMap } from '../../../src/workbench/unmapped/unmapped-map.js';
import { unmappedReport } from '../../../src/workbench/unmapped/unmapped-report.js';
import { unmappedText } from '../../../src/workbench/unmapped/unmapped-text.js';
import { MEASURES, northCampus, ORDERS } from '../../facts/sites.js';
import { fhirIssues } from '../../oracles/fhir-validity.js';
import { shipped } from '../../rulebook/shipped.js';

const ICD = 'http://hl7.org/fhir/sid/icd-10-cm';
const codings: readonly UnmappedCoding[] = [
  { resourceType: 'Condition', element: 'code', system: ICD, code: 'J45.9', count: 900 },
  { resourceType: 'ServiceRequest', element: 'code', system: ORDERS, code: 'HIP-X', count: 3 },
  { resourceType: 'Procedure', element: 'code', system: ORDERS, code: 'HIP-X', count: 40 },
  { resourceType: 'Observation', element: 'code', system: MEASURES, code: 'INCL2', count: 7 },
  { resourceType: 'ServiceRequest', element: 'code', system: ORDERS, code: 'THA', count: 12 },
  { resourceType: 'Device', element: 'type', system: ORDERS, code: 'DEV', count: 1 },
  { resourceType: 'Procedure', element: 'code', system: '-', code: 'THR', count: 5 },
  { resourceType: 'Condition', element: 'code', system: ICD, code: '(words)', count: 2 },
];

describe('what was not understood', () => {
  const report = unmappedReport(codings, { rulebook: shipped, site: northCampus });

  it('parts local codes from published ones and from those no map can name, the most frequent first', () => {
    expect(report.local.map(({ code, count }) => [code, count])).toEqual([
      ['HIP-X', 40],
      ['THA', 12],
      ['INCL2', 7],
      ['HIP-X', 3],
      ['DEV', 1],
    ]);
    expect(report.published.map(({ code }) => code)).toEqual(['J45.9']);
    expect(report.nameless.map(({ code }) => code)).toEqual(['THR', '(words)']);
  });

  it('says which line of a map each needs, and where no map is looked at', () => {
    const wanted = Object.fromEntries(
      report.local.map(({ resourceType, code, wants }) => [`${resourceType} ${code}`, wants?.says]),
    );
    expect(wanted).toMatchObject({
      'Procedure HIP-X': 'an operation',
      'Observation INCL2': 'a measure',
      'Device DEV': undefined,
    });
  });

  it('marks what the site’s maps have by now', () => {
    expect(report.local.filter(({ isMappedNow }) => isMappedNow).map(({ code }) => code)).toEqual(['THA']);
    const text = unmappedText(report, 'over a sample');
    expect(text).toContain('Local codes without a line in a map (4)');
    expect(text).toContain('Local codes met before the maps had them');
    expect(unmappedText(unmappedReport([], { rulebook: shipped }), 'over a sample')).toContain(
      'every local code met is understood',
    );
  });

  it('gives a valid ConceptMap with one line for each missing code, which a site refuses until it is filled in', () => {
    const map = unmappedMap(report) as unknown as ConceptMapFile;
    expect(fhirIssues(map)).toEqual([]);
    expect(
      map.group.map(({ source, target, element }) => [source, target, element.map(({ code }) => code)]),
    ).toEqual([
      [MEASURES, shipped.knowledge.systems.measure, ['INCL2']],
      [ORDERS, 'http://snomed.info/sct', ['HIP-X']],
    ]);
    expect(parseFile({ path: 'map.json', content: map }, conceptMapSchema).issues.length).toBeGreaterThan(0);
    // Filled in as its comments ask, it is a map like any other.
    const filled = JSON.parse(
      JSON.stringify(map)
        .replace('"equivalence":"unmatched"', '"code":"cup-inclination","equivalence":"equivalent"')
        .replace('"equivalence":"unmatched"', '"code":"52734007","equivalence":"equivalent"'),
    ) as ConceptMapFile;
    const faults: unknown[] = [];
    const maps = readConceptMaps([{ file: 'map.json', value: filled }], shipped, (...fault) =>
      faults.push(fault),
    );
    expect(faults).toEqual([]);
    expect(maps.operations.get(ORDERS)?.has('HIP-X')).toBe(true);
  });
});

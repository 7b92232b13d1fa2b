import { cpSync, mkdirSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import fc from 'fast-check';
import { afterAll, describe, expect, it } from 'vitest';
import { COMPUTATION_IDS, SERVICES } from '../../src/advice/index.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { buildRulebook } from '../../src/rulebook/build.js';
import { formatIssue } from '../../src/rulebook/pack.js';
import type { PackFile } from '../../src/rulebook/pack.js';
import { parseSite } from '../../src/rulebook/site.js';
import { loadSite, readSite } from '../../src/rulebook-files/read-site.js';
import { CODE, SNOMED, without } from '../facts/records.js';
import {
  MEASURES,
  ORDERS,
  SITE_FILE,
  VISITS,
  filesWith,
  line,
  mapOf,
  northCampus,
  products,
  siteFiles,
  siteOf,
} from '../facts/sites.js';
import { fhirIssues } from '../oracles/fhir-validity.js';
import { shipped, shippedPack } from './shipped.js';

const MEASURE = shipped.about.systems.measure;

function issuesOf(files: readonly PackFile[]): readonly string[] {
  const result = parseSite(files, shipped);
  return result.ok ? [] : result.issues.map(formatIssue);
}

/** The faults of the example site with other members in its site file. */
function withMembers(members: JsonObject): readonly string[] {
  return issuesOf(changed(members));
}

function changed(members: JsonObject): readonly PackFile[] {
  return siteFiles.map((file, index) =>
    index === 0 ? { ...file, content: { ...(file.content as JsonObject), ...members } } : file,
  );
}

/** The faults of one map with one group. */
function mapFaults(source: string, target: string, ...element: readonly JsonObject[]): readonly string[] {
  return issuesOf(filesWith(mapOf(source, target, ...element)));
}

describe('the site file shipped as an example', () => {
  it('is read without a fault', () => {
    expect(issuesOf(siteFiles)).toEqual([]);
    expect(northCampus.id).toBe('north-campus');
    expect([...northCampus.ceiling]).toEqual([['order-sign', 4]]);
    expect(northCampus.sources).toEqual({
      absent: ['DeviceRequest'],
      recorded: ['cup-inclination', 'head-diameter'],
    });
    expect(northCampus.measureCodes).toContain(`${MEASURES}|CUP-INC`);
  });

  // Truth: two independent R4 validators, and R4 ConceptMap with its value set of equivalences.
  it.each(siteFiles.slice(1).map(({ path, content }) => [path, content] as const))(
    '%s is a valid R4 ConceptMap',
    (_path, content) => {
      expect(fhirIssues(content as object)).toEqual([]);
    },
  );
});

describe('the hash of a site', () => {
  it('changes with any content of site file or maps, and not with the order in which maps came', () => {
    const [site, ...maps] = siteFiles;
    if (!site) throw new Error('no site file');
    expect(siteOf([site, ...maps.reverse()]).hash).toBe(northCampus.hash);
    expect(northCampus.hash).toMatch(/^sha256-[0-9a-f]{64}$/);
    expect(siteOf(changed({ version: '2' })).hash).not.toBe(northCampus.hash);
    const retitled = siteFiles.map((file, index) =>
      index === 1 ? { ...file, content: { ...(file.content as JsonObject), title: 'another' } } : file,
    );
    expect(siteOf(retitled).hash).not.toBe(northCampus.hash);
  });
});

// Truth: integration decisions §4: outside what is allowed, the service refuses to start and says where.
describe('a site file', () => {
  it.each([
    [{ approvals: [], services: {}, rules: {}, parameters: {} }, []],
    [{ approvals: undefined }, []],
    [{ rulebook: { version: shipped.about.version, hash: shipped.hash } }, []],
    [{ ceiling: { 'order-select': 1, 'patient-view': 3 } }, []],
    [{ defaults: { 'head-diameter': 32, 'component-retained': 'cup' } }, []],
  ])('may say %j', (members, faults) => {
    expect(withMembers(members)).toEqual(faults);
  });

  it.each([
    [{ candidate: 'x' }, 'site.json: expected no member candidate'],
    [{ id: 'North Campus' }, 'at id: expected kebab-case'],
    [
      { rulebook: { version: '2025.1.0', hash: shipped.hash } },
      `at rulebook.version: expected ${shipped.about.version}`,
    ],
    [
      { rulebook: { version: shipped.about.version, hash: `sha256-${'0'.repeat(64)}` } },
      `at rulebook.hash: expected ${shipped.hash}`,
    ],
    [{ ceiling: { 'order-sign': 6 } }, 'at ceiling.order-sign: expected a whole number from 1 to 5'],
    [{ ceiling: { 'patient-view': 0 } }, 'at ceiling.patient-view: expected a whole number from 1 to 3'],
    [{ ceiling: { 'order-dispatch': 1 } }, 'at ceiling: expected no member order-dispatch'],
    [
      { sources: { absent: ['Medication'] } },
      'at sources.absent[0]: expected a resource type or prefetch key, found Medication',
    ],
    [
      { sources: { recorded: ['age'] } },
      'at sources.recorded[0]: expected a measure of the rulebook, found age',
    ],
    [
      { sources: { recorded: ['parkinson-disease'] } },
      'at sources.recorded[0]: expected a measure of the rulebook',
    ],
    [
      { defaults: { 'surgical-approach': 'sideways' } },
      'at defaults.surgical-approach: expected one of posterior, ',
    ],
    [{ defaults: { 'head-diameter': 360 } }, 'at defaults.head-diameter: expected a number from '],
    [{ defaults: { 'head-diameter': '32' } }, 'at defaults.head-diameter: expected a number from '],
    [
      { defaults: { 'dislocation-count': 0 } },
      'at defaults.dislocation-count: expected a measure that is planned',
    ],
    [{ defaults: { 'no-such': 1 } }, 'at defaults.no-such: expected a measure that is planned'],
    [
      { audience: { 'hip-stability-chart': ['surgeon'] } },
      'at audience.hip-stability-chart[0]: expected system|code',
    ],
    [
      { audience: { 'hip-stability-chart': [] } },
      'at audience.hip-stability-chart: expected at least one role',
    ],
    [{ audience: { 'knee-stability': ['a|b'] } }, 'at audience: expected no member knee-stability'],
    [{ maps: ['maps/none.json'] }, 'at maps[0]: expected a file that was read, found maps/none.json'],
    [{ maps: [] }, 'at maps: expected the map maps/orders.json, found none'],
  ])('may not say %j', (members, expected) => {
    expect(withMembers(members).join('\n')).toContain(expected);
  });

  it('names the services there are', () => {
    for (const { id } of SERVICES)
      expect(withMembers({ audience: { [id]: ['https://codes.example/roles|x'] } })).toEqual([]);
  });
});

// Truth: R4 ConceptMap: equivalence is read from target to source ("the target is wider than the source").
describe('a map', () => {
  it.each(['equal', 'equivalent', 'wider', 'subsumes'])('may lead to a target that is %s', (equivalence) => {
    expect(mapFaults(ORDERS, SNOMED, line('X', CODE.totalHip, { equivalence }))).toEqual([]);
  });

  it.each(['relatedto', 'narrower', 'specializes', 'inexact', 'unmatched', 'disjoint'])(
    'may not lead to a target that is %s: it would say more than the local code',
    (equivalence) => {
      expect(mapFaults(ORDERS, SNOMED, line('X', CODE.totalHip, { equivalence, comment: 'why' }))).toEqual([
        `maps/0.json at group[0].element[0].target[0].equivalence: expected equal, equivalent, wider or subsumes: a target says no more than its local code, found ${equivalence}`,
      ]);
    },
  );

  it.each<[string, string, string, JsonObject, string]>([
    [
      'an unknown target system',
      ORDERS,
      'https://codes.example/else',
      line('X', 'Y'),
      'expected a target system among',
    ],
    [
      'a knee operation',
      ORDERS,
      SNOMED,
      line('X', '609588000'),
      'target[0].code: expected a code the rulebook reads',
    ],
    ['no measure', MEASURES, MEASURE, line('X', 'cup-colour'), 'expected a code the rulebook reads'],
    [
      'no answer',
      MEASURES,
      shipped.about.systems.measureValue,
      line('X', 'sideways'),
      'expected a code the rulebook reads',
    ],
    [
      'no diagnosis of ours',
      ORDERS,
      'http://hl7.org/fhir/sid/icd-10-cm',
      line('X', 'J45.0'),
      'expected a code the rulebook reads',
    ],
    // Another meaning for a code the rulebook knows would change its knowledge in silence.
    [
      'a code the rulebook knows',
      SNOMED,
      SNOMED,
      line('386649003', CODE.totalHip),
      'expected a local code, not one the rulebook itself gives a meaning',
    ],
    [
      'the other side',
      SNOMED,
      SNOMED,
      line(CODE.left, CODE.right),
      'expected a local code, not one the rulebook itself gives a meaning',
    ],
    [
      'a measure of ours',
      MEASURE,
      MEASURE,
      line('cup-inclination', 'cup-anteversion'),
      'expected a local code, not one the rulebook itself gives a meaning',
    ],
    // Integration decisions §1: a diagnosis alone never suffices.
    [
      'a diagnosis',
      'http://hl7.org/fhir/sid/icd-10-cm',
      SNOMED,
      line('M25.5', CODE.totalHip),
      'a diagnosis alone is no operation',
    ],
    [
      'a wrong stage',
      MEASURES,
      MEASURE,
      line('X', 'cup-inclination', products({ stage: 'native' })),
      'product.stage: expected one of planned, intraoperative, postoperative, found native',
    ],
    [
      'a wrong unit',
      MEASURES,
      MEASURE,
      line('X', 'cup-inclination', products({ unit: 'mm' })),
      'product.unit: expected a UCUM unit that converts to deg, found mm',
    ],
    [
      'a wrong sign',
      MEASURES,
      MEASURE,
      line('X', 'cup-inclination', products({ sign: '2' })),
      'product.sign: expected one of 1, -1, found 2',
    ],
    [
      'a wrong side',
      MEASURES,
      MEASURE,
      line('X', 'cup-inclination', products({ side: 'bilateral' })),
      'product.side: expected one of left, right',
    ],
    [
      'a wrong definition',
      MEASURES,
      MEASURE,
      line('X', 'cup-inclination', products({ 'angle-definition': 'free' })),
      'expected one of radiographic, operative, anatomic, found free',
    ],
    [
      'a qualifier of another measure',
      MEASURES,
      MEASURE,
      line('X', 'head-diameter', products({ 'angle-definition': 'operative' })),
      'expected a property of head-diameter: stage, side, unit, sign, found angle-definition',
    ],
    [
      'a flag that is none',
      MEASURES,
      MEASURE,
      line('X', 'cup-anteversion', products({ 'version-sign-confirmed': 'yes' })),
      'expected one of true, false, found yes',
    ],
    [
      'a sign of an answer',
      MEASURES,
      MEASURE,
      line('X', 'surgical-approach', products({ sign: '-1' })),
      'expected a property of surgical-approach: stage, side, found sign',
    ],
    [
      'a stage of an order',
      ORDERS,
      SNOMED,
      line('X', CODE.totalHip, products({ stage: 'planned' })),
      'expected the property side only, found stage',
    ],
    [
      'a side of an order',
      ORDERS,
      SNOMED,
      line('X', CODE.totalHip, products({ side: 'up' })),
      'expected one of left, right, bilateral, found up',
    ],
    [
      'a side of a side',
      ORDERS,
      SNOMED,
      line('X', CODE.left, products({ side: 'left' })),
      'expected no property beside a side',
    ],
    [
      'a measure with a reason',
      MEASURES,
      MEASURE,
      line('X', 'cup-inclination', { dependsOn: [{ property: 'reasonCode', system: ORDERS, value: 'Y' }] }),
      'expected none, only a visit may depend on its reason',
    ],
    [
      'another dependency',
      VISITS,
      SNOMED,
      line('X', CODE.totalHip, { dependsOn: [{ property: 'priority', system: ORDERS, value: 'Y' }] }),
      'dependsOn[0].property: expected reasonCode, found priority',
    ],
    [
      'a reason without a system',
      VISITS,
      SNOMED,
      line('X', CODE.totalHip, { dependsOn: [{ property: 'reasonCode', value: 'Y' }] }),
      'dependsOn[0].system: expected the code system of the reason',
    ],
    ['no target', ORDERS, SNOMED, { code: 'X', target: [] }, 'expected at least one target'],
    [
      'a modifier',
      ORDERS,
      SNOMED,
      line('X', CODE.totalHip, { modifierExtension: [{ url: 'https://x.example', valueBoolean: true }] }),
      'expected no modifierExtension, which is not read',
    ],
  ])('is refused with %s', (_what, source, target, element, expected) => {
    expect(mapFaults(source, target, element).join('\n')).toContain(expected);
  });

  it('maps a local code once, also across maps; a visit once for each reason', () => {
    const map = mapOf(ORDERS, SNOMED, line('X', CODE.totalHip));
    expect(issuesOf(filesWith(map, map)).join('\n')).toContain(
      'expected a local code mapped once, not again as in maps/0.json',
    );
    const reason = (value: string): JsonObject => ({
      dependsOn: [{ property: 'reasonCode', system: ORDERS, value }],
    });
    const visits = [line('X', CODE.totalHip, reason('A')), line('X', '62402000', reason('B'))];
    expect(mapFaults(VISITS, SNOMED, ...visits)).toEqual([]);
    // One code may be an order and a side's name: they stand in different places.
    expect(issuesOf(filesWith(map, mapOf(ORDERS, SNOMED, line('X', CODE.left))))).toEqual([]);
  });

  it.each([
    ['retired', { ...mapOf(ORDERS, SNOMED, line('X', CODE.totalHip)), status: 'retired' }, 'at status'],
    [
      'of another type',
      { resourceType: 'ValueSet', status: 'active' },
      'at resourceType: expected one of ConceptMap',
    ],
    [
      'with a rule for unlisted codes',
      {
        resourceType: 'ConceptMap',
        status: 'active',
        group: [
          {
            source: ORDERS,
            target: SNOMED,
            unmapped: { mode: 'fixed', code: CODE.totalHip },
            element: [line('X', CODE.totalHip)],
          },
        ],
      },
      'expected no unmapped, which is not read',
    ],
    ['without groups', { resourceType: 'ConceptMap', status: 'active' }, 'at group'],
    ['that is no JSON', 'not JSON', 'expected object, found "not JSON"'],
  ])('%s is refused', (_what, map, expected) => {
    expect(issuesOf(filesWith(map)).join('\n')).toContain(expected);
  });

  it('has its faults told in one order, and never throws', () => {
    const files = filesWith(
      mapOf(ORDERS, SNOMED, line('X', 'b'), line('Y', 'a')),
      mapOf(ORDERS, 'urn:x', line('Z', 'c')),
    );
    const told = issuesOf(files);
    expect(told).toHaveLength(3);
    expect(told).toEqual([...told].sort());
    const [site, first, second] = files;
    if (!site || !first || !second) throw new Error('too few files');
    expect(issuesOf([site, second, first])).toEqual(told);
    fc.assert(
      fc.property(fc.jsonValue(), fc.jsonValue(), (content, map) => {
        parseSite(
          [
            { path: 'site.json', content },
            { path: 'm.json', content: map },
          ],
          shipped,
        );
        parseSite(filesWith({ resourceType: 'ConceptMap', status: 'active', group: map }), shipped);
      }),
      { numRuns: 500, seed: 20261124 },
    );
    expect(parseSite([], shipped).ok).toBe(false);
  });
});

describe('the rulebook', () => {
  it('has words for everything a map may supply, and for nothing else', () => {
    const broken = (qualifiers: JsonObject): readonly string[] => {
      const files = shippedPack.files.map((file) => {
        if (file.path !== 'rulebook.json') return file;
        const content = file.content as JsonObject;
        return {
          ...file,
          content: { ...content, site: { remarks: { ...shipped.about.site.remarks, qualifiers } } },
        };
      });
      const result = buildRulebook({ files }, COMPUTATION_IDS);
      return result.ok ? [] : result.issues.map(formatIssue);
    };
    const rest = without(shipped.about.site.remarks.qualifiers, 'sign');
    expect(broken({ ...rest, mood: 'x' })).toEqual([
      expect.stringContaining('expected one of stage, side, unit, sign, angle-definition'),
      'rulebook.json at site.remarks.qualifiers: expected words for sign, found none',
    ]);
  });
});

describe('a site on disk', () => {
  const folder = mkdtempSync(join(tmpdir(), 'site-'));
  afterAll(() => rmSync(folder, { recursive: true }));

  it('is read with the maps it names', () => {
    expect(loadSite(SITE_FILE, shipped).hash).toBe(northCampus.hash);
    const copy = join(folder, 'copy');
    cpSync(dirname(SITE_FILE), copy, { recursive: true });
    cpSync(SITE_FILE, join(copy, 'renamed.json'));
    expect(loadSite(join(copy, 'renamed.json'), shipped).hash).toBe(northCampus.hash);
  });

  it('never reads a map outside its folder, by dots, by an absolute path or through a link', () => {
    const map = JSON.stringify(mapOf(ORDERS, SNOMED, line('X', CODE.totalHip)));
    const inside = join(folder, 'inside');
    mkdirSync(inside);
    writeFileSync(join(folder, 'secret.json'), map);
    writeFileSync(join(inside, 'own.json'), map);
    symlinkSync(join(folder, 'secret.json'), join(inside, 'link.json'));
    const site = (path: string): string => {
      const file = join(inside, 'site.json');
      writeFileSync(file, JSON.stringify({ id: 'a', version: '1', maps: [path] }));
      return file;
    };
    expect(readSite(site('own.json'))[1]?.content).toEqual(JSON.parse(map));
    for (const path of ['../secret.json', join(folder, 'secret.json'), 'link.json', 'x/../../secret.json'])
      expect(() => loadSite(site(path), shipped), path).toThrow(
        'a file outside the folder of the site file, not read',
      );
    expect(() => loadSite(site('none.json'), shipped)).toThrow('no such file');
  });

  it('that is missing or no JSON is told with its path', () => {
    expect(() => loadSite(join(folder, 'none.json'), shipped)).toThrow(
      /none\.json has faults:\n.*not readable: ENOENT/,
    );
    writeFileSync(join(folder, 'broken.json'), '{');
    expect(() => loadSite(join(folder, 'broken.json'), shipped)).toThrow('expected object, found "not JSON"');
  });
});

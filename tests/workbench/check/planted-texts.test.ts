import { describe, expect, it } from 'vitest';
import type { CheckResult } from '../../../src/workbench/check/check-rulebook.js';
import type { CheckFinding } from '../../../src/workbench/check/finding.js';
import {
  checkedWith,
  finding,
  leaf,
  lineWith,
  parameter,
  replaced,
  ruleText,
  shippedTexts,
} from './planted.js';

const CUP = 'computations/cup-position.json';
const STEEP = 'advisories/placement/cup-inclination-outside-published.json';
const RETROVERSION = 'advisories/placement/cup-retroversion-confirmed.json';
const PARESIS = 'value-sets/paresis.json';
const OWN = 'advisories/placement/planted.json';

interface Planted {
  readonly file: string;
  readonly text: string;
  readonly check: CheckFinding['check'];
  /** A piece of the line that must be pointed at. */
  readonly at: string;
  readonly expected: string | RegExp;
  readonly found: string | RegExp;
}

const sclerosis = leaf('multiple-sclerosis', 'recorded', true);

const planted: Readonly<Record<string, Planted>> = {
  'a parameter without citation': {
    file: CUP,
    text: replaced(
      CUP,
      '"citations": ["callanan-2011", "lewinnek-1978", "turley-2014", "zone-esposito-2026"]',
      '"citations": []',
    ),
    check: 'form',
    at: '"citations": []',
    expected: 'a citation for a value read in a source',
    found: 'none',
  },
  'a parameter whose citation stands on other records': {
    file: CUP,
    text: replaced(CUP, '"citations": ["callanan-2011",', '"citations": ["dorr-2009",'),
    check: 'citations',
    at: '"citations": ["dorr-2009",',
    expected: /^a source that stands on one of zone-lewinnek, /,
    found: 'dorr-2009',
  },
  'a limit that a computation only assumes': {
    file: OWN,
    text: ruleText({
      id: 'planted',
      when: leaf('neck-diameter', 'above', parameter('neck-diameter-default')),
    }),
    check: 'parameters',
    at: '"neck-diameter-default"',
    expected: 'a parameter meant as a limit',
    found: 'neck-diameter-default, meant as default',
  },
  'a limit of another dimension': {
    file: OWN,
    text: ruleText({
      id: 'planted',
      when: leaf('cup-inclination', 'above', parameter('leg-length-difference-limit')),
    }),
    check: 'form',
    at: '"value": {',
    expected: 'a parameter in deg',
    found: 'mm',
  },
  'plausible limits of another dimension': {
    file: 'facts/cup-inclination.json',
    text: replaced('facts/cup-inclination.json', 'plausible-cup-inclination', 'plausible-head-diameter'),
    check: 'units',
    at: 'plausible-head-diameter',
    expected: 'a parameter in deg',
    found: 'plausible-head-diameter in mm, which measures something else',
  },
  'a unit that is none': {
    file: CUP,
    text: replaced(CUP, '"unit": "deg"', '"unit": "degrees"'),
    check: 'units',
    at: '"degrees"',
    expected: 'a unit of UCUM',
    found: 'degrees',
  },
  'a DOI other than that of the evidence': {
    file: 'citations/sariali-2009.json',
    text: replaced('citations/sariali-2009.json', '10.3109/17453670902988378', '10.3109/17453670902988379'),
    check: 'citations',
    at: '"doi"',
    expected: '10.3109/17453670902988378, as in the evidence',
    found: '10.3109/17453670902988379',
  },
  'a year that no record gives': {
    file: 'citations/sariali-2009.json',
    text: replaced('citations/sariali-2009.json', '"year": 2009', '"year": 2010'),
    check: 'citations',
    at: '"year"',
    expected: '2009, as in the evidence',
    found: '2010',
  },
  'a record the evidence does not have': {
    file: 'citations/lewinnek-1978.json',
    text: replaced('citations/lewinnek-1978.json', '"zone-lewinnek"', '"zone-lewinnek", "zone-nobody"'),
    check: 'citations',
    at: '"zone-nobody"',
    expected: 'a record of the evidence',
    found: 'zone-nobody',
  },
  'a source read farther than its records': {
    file: 'citations/lewinnek-1978.json',
    text: replaced('citations/lewinnek-1978.json', '"readAt": "secondary source"', '"readAt": "full text"'),
    check: 'citations',
    at: '"readAt"',
    expected: 'secondary source, as far as its records were read',
    found: 'full text',
  },
  'a code of the negative twin': {
    file: PARESIS,
    text: replaced(
      PARESIS,
      '"include": [',
      `"include": [
        { "system": "http://hl7.org/fhir/sid/icd-10-cm", "concept": [
          { "code": "Z86.73", "display": "Past stroke without deficit" } ] },`,
    ),
    check: 'codes',
    at: 'Z86.73',
    expected: 'no code of stroke-history-no-deficit, which this set takes away',
    found: 'Z86.73',
  },
  'a code too vague to mean the fact that lists it': {
    file: 'value-sets/lumbar-fusion.json',
    text: replaced('value-sets/lumbar-fusion.json', '"M43.27"', '"Z98"'),
    check: 'codes',
    at: '"Z98"',
    expected: 'no code of fusion-site-unclear, whose codes alone do not mean lumbar-fusion',
    found: 'Z98',
  },
  'a code listed twice': {
    file: 'value-sets/lumbar-fusion.json',
    text: replaced('value-sets/lumbar-fusion.json', '"value": "M43.27"', '"value":  "M43.26"'),
    check: 'codes',
    at: '"value":  "M43.26"',
    expected: 'each code once in lumbar-fusion',
    found: 'M43.26 a second time',
  },
  'a SNOMED CT identifier with a wrong check digit': {
    file: 'value-sets/fusion-site-unclear.json',
    text: replaced('value-sets/fusion-site-unclear.json', '"55705006"', '"55705007"'),
    check: 'codes',
    at: '"55705007"',
    expected: 'a SNOMED CT concept identifier with a right check digit',
    found: '55705007',
  },
  'a code system that is written under its other name': {
    file: 'value-sets/fusion-site-unclear.json',
    text: replaced(
      'value-sets/fusion-site-unclear.json',
      'http://hl7.org/fhir/sid/icd-10-cm',
      'urn:oid:2.16.840.1.113883.6.90',
    ),
    check: 'codes',
    at: 'urn:oid:2.16.840.1.113883.6.90',
    expected: 'http://hl7.org/fhir/sid/icd-10-cm',
    found: 'urn:oid:2.16.840.1.113883.6.90',
  },
  'a member nobody knows': {
    file: STEEP,
    text: replaced(STEEP, '"version": "1.0.0",', '"version": "1.0.0",\n  "priority": 7,'),
    check: 'form',
    at: '"priority"',
    expected: 'no member priority',
    found: /^\{"id":/,
  },
  'a member given twice': {
    file: STEEP,
    text: replaced(STEEP, '"type": "clinical",', '"type": "clinical",\n  "version":  "1.0.0",'),
    check: 'form',
    at: '"version":  "1.0.0"',
    expected: 'each member once in an object',
    found: '"version" a second time',
  },
  'a group that is true for every value': {
    file: RETROVERSION,
    text: replaced(
      RETROVERSION,
      '"when": {',
      `"when": { "any": [
        ${JSON.stringify(sclerosis)},
        { "any" : [
          ${JSON.stringify(leaf('cup-inclination', 'at-most', parameter('cup-inclination-published-high')))},
          ${JSON.stringify(leaf('cup-inclination', 'above', parameter('cup-inclination-published-low')))} ] } ] },
      "was": {`,
    ).replace(/,\s*"was": \{[^}]*\{[^}]*\}\s*\}/, ''),
    check: 'form',
    at: '"any" : [',
    expected: 'a group that depends on cup-inclination',
    found: 'one that is true for every value',
  },
  'an option that is an order': {
    file: RETROVERSION,
    text: replaced(RETROVERSION, '"sign checked against the plan"', '"avoid this cup"'),
    check: 'wording',
    at: '"avoid this cup"',
    expected: 'no command at its beginning',
    found: 'avoid this cup',
  },
  'a message that obliges': {
    file: RETROVERSION,
    text: replaced(RETROVERSION, '"doesNotFire": "', '"doesNotFire": "The plan must be kept. '),
    check: 'wording',
    at: '"doesNotFire"',
    expected: 'advice, without "must"',
    found: /^The plan must be kept/,
  },
  'silence that clears': {
    file: RETROVERSION,
    text: replaced(RETROVERSION, '"doesNotFire": "', '"doesNotFire": "The hip is stable. '),
    check: 'wording',
    at: '"doesNotFire"',
    expected: 'words that clear nothing ("is stable")',
    found: /^The hip is stable/,
  },
  'two outcomes in the same words': {
    file: OWN,
    text: ruleText({
      id: 'planted',
      when: sclerosis,
      messages: { fires: 'Same.', doesNotFire: 'Same.', notApplicable: 'Not.', cannotTell: 'Cannot tell.' },
    }),
    check: 'wording',
    at: '"doesNotFire"',
    expected: 'other words than fires',
    found: 'Same.',
  },
  'an option without "no change" before it': {
    file: OWN,
    text: ruleText({
      id: 'planted',
      when: sclerosis,
      findings: [finding({ options: ['another cup', 'no change'] })],
    }),
    check: 'wording',
    at: '"another cup"',
    expected: '"no change" first',
    found: 'another cup',
  },
  'a limit without a source, not said to be common practice': {
    file: OWN,
    text: ruleText({
      id: 'planted',
      when: leaf('abductor-strength', 'at-most', parameter('abductor-strength-deficient')),
      findings: [finding({ sure: 'hardly' })],
    }),
    check: 'wording',
    at: '"sure"',
    expected: '"common practice", on which abductor-strength-deficient rests',
    found: 'hardly',
  },
  'a mechanism that the certainty does not name': {
    file: OWN,
    text: ruleText({ id: 'planted', when: sclerosis, findings: [finding({ sure: 'mechanism: plain' })] }),
    check: 'wording',
    at: '"sure"',
    expected: 'no mechanism, as the certainty names none',
    found: 'mechanism: plain',
  },
  'a placeholder where none is filled': {
    file: OWN,
    text: ruleText({ id: 'planted', when: sclerosis, title: 'A cup at {cup-inclination}' }),
    check: 'wording',
    at: '"title"',
    expected: 'no placeholder, as none is filled here',
    found: 'A cup at {cup-inclination}',
  },
  'a placeholder that is never closed': {
    file: OWN,
    text: ruleText({
      id: 'planted',
      when: sclerosis,
      findings: [finding({ found: ['cup {cup-inclination'] })],
    }),
    check: 'wording',
    at: '{cup-inclination',
    expected: 'placeholders of letters, digits and -.:, in closed braces',
    found: 'cup {cup-inclination',
  },
  'a placeholder nobody defines': {
    file: RETROVERSION,
    text: replaced(RETROVERSION, '"sign checked against the plan"', '"sign of {cup-colour}"'),
    check: 'form',
    at: '{cup-colour}',
    expected: 'a placeholder that can be filled',
    found: '{cup-colour}',
  },
  'a summary too long for a card': {
    file: OWN,
    text: ruleText({ id: 'planted', when: sclerosis, findings: [finding({ summary: ['a'.repeat(91)] })] }),
    check: 'wording',
    at: 'aaaa',
    expected: 'at most 110 characters with hip and construct, values at their shortest',
    found: '111',
  },
  'a finding with more words than a card has room for': {
    file: OWN,
    text: ruleText({
      id: 'planted',
      when: sclerosis,
      findings: [finding({ found: [Array.from({ length: 80 }, () => 'word').join(' ')] })],
    }),
    check: 'wording',
    at: '    {',
    expected: 'at most 90 words in five lines',
    found: /^\d+$/,
  },
  'a blank instead of the place in a source': {
    file: STEEP,
    text: replaced(STEEP, '"where": "introduction of a later paper"', '"where": " "'),
    check: 'citations',
    at: '"where": " "',
    expected: 'where in the source it was read',
    found: 'blanks',
  },
};

/** The findings of one line, without what else a fault brings with it. */
function at(result: CheckResult, file: string, line: number): readonly CheckFinding[] {
  return result.findings.filter((one) => one.file === file && one.line === line);
}

// Truth throughout: a planted fault is found on the line on which it was planted.
describe('a planted fault is told with its file and line:', () => {
  it.each(Object.entries(planted))('%s', async (_what, { file, text, check, at: piece, expected, found }) => {
    const result = await checkedWith({ [file]: text });
    const line = lineWith(text, piece);
    expect(
      at(result, file, line).map((one) => [one.check, one.severity, one.expected, one.found]),
    ).toContainEqual([
      check,
      'error',
      typeof expected === 'string' ? expected : (expect.stringMatching(expected) as string),
      typeof found === 'string' ? found : (expect.stringMatching(found) as string),
    ]);
  });

  it('broken JSON, and nothing else is told beside it', async () => {
    const text = replaced(STEEP, '"indicator": "warning",', '"indicator": "warning"');
    const result = await checkedWith({ [STEEP]: text });
    expect(result.findings).toEqual([
      {
        check: 'syntax',
        severity: 'error',
        file: STEEP,
        path: '',
        line: lineWith(text, '"entries"'),
        expected: expect.stringMatching(/, at column 3$/) as string,
        found: '"',
      },
    ]);
    expect(result.skipped.length).toBeGreaterThan(5);
    expect(result.rulebook).toBeUndefined();
  });

  it('a rule that no test patient gets a card of', async () => {
    const text = shippedTexts.texts.get(STEEP) ?? '';
    const shippedIds = [...shippedTexts.texts.keys()].flatMap(
      (path) => /^advisories\/.*\/(.+)\.json$/.exec(path)?.[1] ?? [],
    );
    const all = new Set(shippedIds);
    expect((await checkedWith({}, { expectedRules: all })).findings).toEqual([]);
    all.delete('cup-inclination-outside-published');
    const { findings } = await checkedWith({}, { expectedRules: all });
    expect(findings.map(({ check, file, line }) => [check, file, line])).toEqual([
      ['patients', STEEP, lineWith(text, '"id"')],
    ]);
  });

  it('a written schema that is older than its definition, and one that is missing', async () => {
    const { findings } = await checkedWith({}, { schemas: new Map([['advisory', '{}']]) });
    expect(findings.every(({ check, line }) => check === 'schema' && line === 1)).toBe(true);
    expect(findings).toContainEqual(
      expect.objectContaining({ file: 'schema/advisory.schema.json', found: 'an older one' }),
    );
    expect(findings).toContainEqual(
      expect.objectContaining({ file: 'schema/citation.schema.json', found: 'none' }),
    );
  });
});

describe('the rulebook as shipped', () => {
  it('has nothing wrong in it, and nothing to note', async () => {
    const { findings, notes, skipped, rulebook } = await checkedWith({});
    expect(findings).toEqual([]);
    expect(rulebook?.rules.length).toBeGreaterThan(20);
    expect(notes).toEqual([]);
    expect(skipped.map(({ check }) => check)).toEqual(['patients', 'schema', 'hazards', 'release']);
  });

  it('says what it could not compare when there are no records', async () => {
    const doi = replaced('citations/sariali-2009.json', '10.3109/17453670902988378', '10.3109/1');
    const { findings, skipped } = await checkedWith(
      { 'citations/sariali-2009.json': doi },
      { evidence: undefined as never },
    );
    expect(findings).toEqual([]);
    expect(skipped).toContainEqual({ check: 'citations', why: 'no evidence records to compare with' });
  });
});

import { describe, expect, it } from 'vitest';
import { parsePack } from '../../../src/rulebook/parse-pack.js';
import { DATA_USES } from '../../../src/rulebook/schema-parts.js';
import type { Fault } from '../../../src/workbench/check/finding.js';
import { checkAttributes } from '../../../src/workbench/check/source-attributes.js';
import { DATA_USE_ATTRIBUTES } from '../../../src/render/evidence/source-attributes.js';
import { finding, leaf, ruleText, shippedTexts } from './planted.js';

const OWN = 'advisories/placement/planted.json';
const STEEP = 'advisories/placement/cup-inclination-outside-published.json';
const NEUROLOGICAL = 'advisories/patient/neurological-disease.json';

const sclerosis = leaf('multiple-sclerosis', 'recorded', true);
const used = (...uses: readonly string[]): unknown =>
  Object.fromEntries(uses.map((use) => [use, { used: true, how: 'planted' }]));

/** What is told about the source attributes of the rulebook with these files changed or added. */
function faultsWith(changed: Readonly<Record<string, string>>): readonly Fault[] {
  const texts = new Map([...shippedTexts.texts, ...Object.entries(changed)]);
  const files = [...texts].map(([path, text]) => ({ path, content: JSON.parse(text) as unknown }));
  return checkAttributes(parsePack({ files }, []));
}

/** The same, of the changed files alone. */
function told(changed: Readonly<Record<string, string>>): readonly string[] {
  return faultsWith(changed)
    .filter(({ file }) => file in changed)
    .map(({ file, expected, found }) => `${file}: ${expected}, found ${found}`);
}

/** A fact made from a shipped one under another name. */
function factNamed(id: string, title = id): string {
  const shipped = JSON.parse(shippedTexts.texts.get('facts/dislocation-count.json') ?? '{}') as object;
  return JSON.stringify({ ...shipped, id, title });
}

const planted = (parts: Readonly<Record<string, unknown>>): Readonly<Record<string, string>> => ({
  [OWN]: ruleText({ id: 'planted', when: sclerosis, ...parts }),
});

describe('the source attributes of the rules', () => {
  // Truth: published, 45 CFR 170.315(b)(11)(iv)(A)(5) to (13).
  it('have a number for each kind of data', () => {
    expect(DATA_USES.map((use) => DATA_USE_ATTRIBUTES[use].number)).toEqual([5, 6, 7, 8, 9, 10, 11, 12, 13]);
  });

  it('are as the facts say, in every rule shipped', () => {
    expect(faultsWith({})).toEqual([]);
  });

  it.each([
    ['race', 'race', 5],
    ['ethnicity', 'ethnicity', 6],
    ['preferred-language', 'language', 7],
    ['sexual-orientation', 'sexual-orientation', 8],
    ['gender-identity', 'gender-identity', 9],
    ['administrative-sex', 'sex', 10],
    ['age', 'date-of-birth', 11],
    ['older-than-75', 'date-of-birth', 11],
    ['household-income', 'social-determinants', 12],
    ['frailty-index', 'health-status-assessments', 13],
  ])('a rule that reads %s must declare the use of %s', (fact, use, number) => {
    const files = { [`facts/${fact}.json`]: factNamed(fact) };
    const rule = {
      when: { any: [sclerosis, leaf(fact, 'above', { parameter: 'dislocation-recorded-count' })] },
    };
    const missing = told({ ...files, ...planted(rule) });
    expect(missing).toEqual([
      `${OWN}: source attribute ${number}, ${DATA_USE_ATTRIBUTES[use as (typeof DATA_USES)[number]].name}, declared as used: it reads ${fact}, found not used`,
    ]);
    expect(told({ ...files, ...planted({ ...rule, uses: used(use) }) })).toEqual([]);
  });

  it.each([
    ['a condition', { when: leaf('dementia', 'recorded', true) }],
    ['a named condition', { when: { condition: 'instability-trigger' } }],
    ['the words of a finding', { findings: [finding({ found: ['grade {abductor-strength}', 'planted'] })] }],
    [
      'what is told as not known',
      { findings: [finding({ notKnown: [{ fact: 'abductor-strength', says: 'strength' }] })] },
    ],
    [
      'an effect',
      {
        effects: [
          {
            fact: 'dementia',
            says: 'planted',
            endpoint: 'dislocation',
            horizon: 'a year',
            population: 'none',
            citations: [],
          },
        ],
      },
    ],
  ])('a use is found in %s', (_where, parts) => {
    expect(told(planted(parts))[0]).toMatch(/attribute 13, .* it reads (?:abductor-strength|dementia)/);
    expect(told(planted({ ...parts, uses: used('health-status-assessments') }))).toEqual([]);
  });

  it('a use that is declared and not found misleads as well', () => {
    expect(told(planted({ uses: used('sex') }))).toEqual([
      `${OWN}: source attribute 10, use of sex, declared as not used: it reads none, found used`,
    ]);
  });

  it('a word is found whole only: a stage is no age, and an escalation no scale', () => {
    const fact = 'stage-of-escalation';
    const rule = {
      when: { any: [sclerosis, leaf(fact, 'above', { parameter: 'dislocation-recorded-count' })] },
    };
    expect(told({ [`facts/${fact}.json`]: factNamed(fact), ...planted(rule) })).toEqual([]);
  });

  it.each([
    [
      'a revision before the release',
      { revised: ['2026-11-24'] },
      'days of revision after the release, in order, found 2026-11-24',
    ],
    ['revisions out of order', { revised: ['2027-02-01', '2027-01-01'] }, 'in order, found 2027-01-01'],
    [
      'a review of an older version',
      { revised: ['2027-01-02'], review: { state: 'reviewed', by: ['a surgeon'], on: '2027-01-01' } },
      'a review of what was last changed on 2027-01-02, found 2027-01-01',
    ],
    [
      'a next review before the release',
      { reviewBy: '2026-11-01' },
      'a day after 2026-11-25, found 2026-11-01',
    ],
  ])('dates are in order: %s is told', (_what, parts, words) => {
    const found = told(planted({ released: '2026-11-25', ...parts }));
    expect(found).toEqual([expect.stringContaining(words) as string]);
  });

  it('a rulebook names the day of its own version', () => {
    const text = (shippedTexts.texts.get('rulebook.json') ?? '').replace(
      /("id": "kotyle",\s+"version": )"[\d.]+"/,
      '$1"2099.1.0"',
    );
    expect(told({ 'rulebook.json': text })).toEqual([
      'rulebook.json: source attribute 4, release date: an entry for version 2099.1.0, found none',
    ]);
  });

  it('a shipped rule that stops saying what it reads is told on its file', () => {
    const text = shippedTexts.texts.get(NEUROLOGICAL) ?? '';
    const { uses, ...silent } = JSON.parse(text) as Record<string, unknown>;
    expect(uses).toBeDefined();
    expect(told({ [NEUROLOGICAL]: JSON.stringify(silent, undefined, 2) })).toEqual([
      expect.stringMatching(
        /^advisories\/patient\/neurological-disease\.json: source attribute 13/,
      ) as string,
    ]);
    expect(JSON.parse(shippedTexts.texts.get(STEEP) ?? '{}')).not.toHaveProperty('uses');
  });
});

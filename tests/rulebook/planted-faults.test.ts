import { cpSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { COMPUTATION_IDS } from '../../src/advice/index.js';
import { buildRulebook } from '../../src/rulebook/build.js';
import type { Pack, RulebookIssue } from '../../src/rulebook/pack.js';
import { formatIssue } from '../../src/rulebook/pack.js';
import { loadRulebook } from '../../src/rulebook-files/load-rulebook.js';
import { readPack } from '../../src/rulebook-files/read-pack.js';
import { each } from '../long-form.js';
import { RULES, shipped, shippedPack } from './shipped.js';

const INCLINATION = 'advisories/placement/cup-inclination-outside-published.json';
const STEM = 'advisories/placement/stem-anteversion-low.json';
const RETROVERSION = 'advisories/placement/cup-retroversion-confirmed.json';
const NEUROLOGICAL = 'advisories/patient/neurological-disease.json';
const SPINE = 'advisories/spine/spine-phenotype.json';
const SIDE = 'advisories/identity/hip-side-conflict.json';
const RATIO = 'advisories/design/head-neck-ratio-low-with-trigger.json';

/** The issues of the shipped rulebook after one file of it was changed at one place; undefined takes the member away. */
function issuesAfter(path: string, pointer: string, value: unknown): readonly RulebookIssue[] {
  return issuesWith(path, changed(contentOf(path), pointer.split('.'), value));
}

function issuesWith(path: string, content: unknown): readonly RulebookIssue[] {
  return issuesOf({
    files: shippedPack.files.map((file) => (file.path === path ? { path, content } : file)),
  });
}

/** A copy of a value in which the member at the end of a path is another; `+` appends to a list. */
function changed(value: unknown, [step, ...rest]: readonly string[], to: unknown): unknown {
  if (step === undefined) return to;
  if (Array.isArray(value)) {
    const items = value as readonly unknown[];
    if (step === '+') return [...items, to];
    if (!(Number(step) < items.length)) throw new Error(`no item ${step}`);
    return items.map((item, index) => (index === Number(step) ? changed(item, rest, to) : item));
  }
  if (typeof value !== 'object' || value === null) throw new Error(`nothing to change at ${step}`);
  if (rest.length > 0 && !Object.hasOwn(value, step)) throw new Error(`no member ${step}`);
  const member = (value as Readonly<Record<string, unknown>>)[step];
  const result = { ...value, [step]: changed(member, rest, to) };
  return Object.fromEntries(Object.entries(result).filter(([, kept]) => kept !== undefined));
}

function issuesOf(pack: Pack): readonly RulebookIssue[] {
  const result = buildRulebook(pack, COMPUTATION_IDS);
  return result.ok ? [] : result.issues;
}

function added(path: string, content: unknown): readonly RulebookIssue[] {
  return issuesOf({ files: [...shippedPack.files, { path, content }] });
}

function contentOf(path: string): Readonly<Record<string, unknown>> {
  const file = shippedPack.files.find((candidate) => candidate.path === path);
  if (!file) throw new Error(`no file ${path}`);
  return file.content as Readonly<Record<string, unknown>>;
}

const leaf = (fact: string, operator: string, value: unknown): unknown => ({ fact, operator, value });
const parameter = (id: string): unknown => ({ parameter: id });

/** Replaces what decides a rule. */
function when(condition: unknown): readonly RulebookIssue[] {
  return issuesAfter(RETROVERSION, 'when', condition);
}

describe('a rule written short', () => {
  it('is the rule written in full: what each finding says, and lists of what a condition looks for', () => {
    // Truth: closed form, the same words written out.
    const base = {
      ...contentOf(RETROVERSION),
      appliesWhen: leaf('cup-inclination', 'above', parameter('cup-inclination-upper-limit')),
    };
    const shared = { summary: ['s'], found: ['on record: {x}'], sure: 'model', notKnown: [] };
    const own = { construct: 'planned', options: ['no change', 'another'] };
    const short = issuesWith(RETROVERSION, {
      ...base,
      inEach: shared,
      findings: [own, { ...own, sure: 'low' }],
    });
    const full = issuesWith(RETROVERSION, {
      ...base,
      findings: [
        { ...shared, ...own },
        { ...shared, ...own, sure: 'low' },
      ],
    });
    expect(short).toEqual(full);
    expect(short.map(({ path }) => path)).toEqual(['findings[0]', 'findings[1]']);
  });
});

describe('the rulebook as shipped', () => {
  it('loads without a fault', () => {
    // Truth: closed form; every test below plants one fault into this rulebook, which has none.
    expect(issuesOf(shippedPack)).toEqual([]);
    expect(shipped.rules.length).toBe(
      shippedPack.files.filter(({ path }) => path.startsWith('advisories/')).length,
    );
    expect(shipped.rules.length).toBeGreaterThanOrEqual(11);
  });

  it('gives every rule the words of its file and puts parameters and named conditions in', () => {
    // Truth: closed form, the files themselves.
    const rule = shipped.rules.find(({ id }) => id === 'cup-inclination-outside-published');
    expect(rule?.when).toMatchObject({
      kind: 'any',
      children: [
        {
          name: 'steep',
          fact: 'cup-inclination',
          limit: { value: 58, parameter: 'cup-inclination-published-high', unit: 'deg' },
        },
        { name: 'flat', limit: { value: 30, parameter: 'cup-inclination-published-low' } },
      ],
    });
    const named = shipped.rules.find(({ id }) => id === 'head-neck-ratio-low-with-trigger');
    expect(named?.when).toMatchObject({
      children: [{ name: 'ratio' }, { kind: 'any', name: 'instability-trigger' }],
    });
  });
});

// Truth throughout: a planted fault must be found, with the file it is in, the place, what was expected and what was found.
describe('a planted fault is reported with file, path, expected and found:', () => {
  it.each<[string, () => readonly RulebookIssue[], RulebookIssue]>([
    [
      'a rule that leaves the word to one that does not exist',
      () => issuesAfter(STEM, 'yieldsTo', ['cup-color']),
      { file: STEM, path: 'yieldsTo', expected: 'a rule that has a card', found: 'cup-color' },
    ],
    [
      'a finding whose certainty line stands neither in it nor in what each finding says',
      () => issuesAfter(STEM, 'findings.0.sure', undefined),
      { file: STEM, path: 'findings[0].sure', expected: 'it here or in inEach', found: 'nothing' },
    ],
    [
      'a list of what a condition nobody defines looks for',
      () => issuesAfter(STEM, 'findings.0.found.0', 'on record: {recorded:cup-color}'),
      {
        file: STEM,
        path: 'findings[0]',
        expected: 'a placeholder that can be filled',
        found: '{recorded:cup-color}',
      },
    ],
    [
      'a rule that leaves the word to itself',
      () => issuesAfter(STEM, 'yieldsTo', ['stem-anteversion-low']),
      {
        file: STEM,
        path: 'yieldsTo',
        expected: 'rules that do not yield back to this one',
        found: 'stem-anteversion-low',
      },
    ],
    [
      'a page-only rule that leaves the word to another',
      () =>
        issuesWith(NEUROLOGICAL, {
          ...contentOf(NEUROLOGICAL),
          tells: 'page',
          yieldsTo: ['stem-anteversion-low'],
        }),
      {
        file: NEUROLOGICAL,
        path: 'yieldsTo',
        expected: 'nothing, as the rule has no card',
        found: 'stem-anteversion-low',
      },
    ],
    [
      'a fact nobody defines',
      () => when(leaf('cup-colour', 'clearly-below', parameter('cup-retroversion-limit'))),
      {
        file: RETROVERSION,
        path: 'when.fact',
        expected: 'a fact or computation that is defined',
        found: 'cup-colour',
      },
    ],
    [
      'an operator that does not fit a number',
      () => when(leaf('cup-inclination', 'recorded', true)),
      {
        file: RETROVERSION,
        path: 'when.operator',
        expected: 'one of above, below, at-least, at-most, clearly-above, clearly-below',
        found: 'recorded',
      },
    ],
    [
      'an operator that does not fit a diagnosis',
      () =>
        when({
          any: [
            leaf('dementia', 'recorded', true),
            leaf('parkinson-disease', 'above', parameter('cup-retroversion-limit')),
          ],
        }),
      { file: RETROVERSION, path: 'when.any[1].operator', expected: 'one of recorded', found: 'above' },
    ],
    [
      'an operator that does not exist',
      () => when(leaf('cup-inclination', 'greaterThan', parameter('cup-retroversion-limit'))),
      {
        file: RETROVERSION,
        path: 'when.operator',
        expected:
          'one of above, below, at-least, at-most, clearly-above, clearly-below, equal, one-of, recorded',
        found: '"greaterThan"',
      },
    ],
    [
      'a parameter nobody defines',
      () => when(leaf('cup-inclination', 'above', parameter('cup-inclination-secret'))),
      {
        file: RETROVERSION,
        path: 'when.value',
        expected: 'a defined parameter',
        found: 'cup-inclination-secret',
      },
    ],
    [
      'a parameter in another unit',
      () => when(leaf('cup-inclination', 'above', parameter('head-neck-ratio-preferred'))),
      { file: RETROVERSION, path: 'when.value', expected: 'a parameter in deg', found: '1' },
    ],
    [
      'a quoted figure as a limit',
      () => when(leaf('oscillation-angle', 'below', parameter('oscillation-angle-preferred'))),
      {
        file: RETROVERSION,
        path: 'when.value',
        expected: 'a parameter that may be a threshold',
        found: 'oscillation-angle-preferred (quoted only)',
      },
    ],
    [
      'a range as a limit',
      () => when(leaf('cup-inclination', 'above', parameter('plausible-cup-inclination'))),
      {
        file: RETROVERSION,
        path: 'when.value',
        expected: 'a parameter that is one number',
        found: 'plausible-cup-inclination',
      },
    ],
    [
      'a bare number as a limit',
      () => when(leaf('cup-inclination', 'above', 'fifty')),
      { file: RETROVERSION, path: 'when.value', expected: 'a parameter', found: '"fifty"' },
    ],
    [
      'absence asked for by false instead of not',
      () => when(leaf('dementia', 'recorded', false)),
      { file: RETROVERSION, path: 'when.value', expected: 'true (ask for absence with not)', found: 'false' },
    ],
    [
      'a code the fact cannot have',
      () => when(leaf('procedure-kind', 'one-of', ['primary', 'tertiary'])),
      {
        file: RETROVERSION,
        path: 'when.value',
        expected: 'one of primary, revision, conversion, unspecified, other-hip, implanted',
        found: 'tertiary',
      },
    ],
    [
      'a named condition that has no file',
      () => when({ condition: 'bad-weather' }),
      { file: RETROVERSION, path: 'when.condition', expected: 'a file in conditions/', found: 'bad-weather' },
    ],
    [
      'an empty group',
      () => when({ any: [] }),
      {
        file: RETROVERSION,
        path: 'when.any',
        expected: 'Too small: expected array to have >=1 items',
        found: '[]',
      },
    ],
    [
      'a group that is false for every value',
      () =>
        when({
          all: [
            leaf('cup-inclination', 'above', parameter('cup-inclination-published-high')),
            leaf('cup-inclination', 'below', parameter('cup-inclination-published-low')),
          ],
        }),
      {
        file: RETROVERSION,
        path: 'when',
        expected: 'a group that depends on cup-inclination',
        found: 'one that is false for every value',
      },
    ],
    [
      'a group that is true for every value',
      () =>
        when({
          any: [
            leaf('cup-inclination', 'at-most', parameter('cup-inclination-published-high')),
            leaf('cup-inclination', 'above', parameter('cup-inclination-published-low')),
          ],
        }),
      {
        file: RETROVERSION,
        path: 'when',
        expected: 'a group that depends on cup-inclination',
        found: 'one that is true for every value',
      },
    ],
    [
      'a constant group below other groups',
      () =>
        when({
          all: [
            leaf('dementia', 'recorded', true),
            {
              not: {
                any: [
                  leaf('cup-inclination', 'at-least', parameter('cup-inclination-upper-limit')),
                  leaf('cup-inclination', 'below', parameter('cup-inclination-upper-limit')),
                ],
              },
            },
          ],
        }),
      {
        file: RETROVERSION,
        path: 'when',
        expected: 'a group that depends on cup-inclination',
        found: 'one that is true for every value',
      },
    ],
    [
      'a diagnosis and its opposite',
      () => when({ all: [leaf('dementia', 'recorded', true), { not: leaf('dementia', 'recorded', true) }] }),
      {
        file: RETROVERSION,
        path: 'when',
        expected: 'a group that depends on dementia',
        found: 'one that is false for every value',
      },
    ],
    [
      'a citation without a file',
      () => issuesAfter(INCLINATION, 'citations.+', { key: 'nobody-1900', where: 'p', supports: 's' }),
      { file: INCLINATION, path: 'citations', expected: 'a file in citations/', found: 'nobody-1900' },
    ],
    [
      'a rule without citation or stated basis',
      () => issuesAfter(INCLINATION, 'citations', undefined),
      { file: INCLINATION, path: 'citations', expected: 'citations, or a stated basis', found: 'neither' },
    ],
    [
      'an effect citing nobody',
      () => issuesAfter(NEUROLOGICAL, 'effects.0.citations', ['nobody-1900']),
      { file: NEUROLOGICAL, path: 'citations', expected: 'a file in citations/', found: 'nobody-1900' },
    ],
    [
      'a sourced parameter without a citation',
      () => issuesAfter('computations/cup-position.json', 'parameters.0.citations', []),
      {
        file: 'computations/cup-position.json',
        path: 'parameters.cup-inclination-published-low.citations',
        expected: 'a citation for a value read in a source',
        found: 'none',
      },
    ],
    [
      'a rule id that is not its file name',
      () => issuesAfter(INCLINATION, 'id', 'cup-too-steep'),
      {
        file: INCLINATION,
        path: 'id',
        expected: 'cup-inclination-outside-published',
        found: 'cup-too-steep',
      },
    ],
    [
      'an id used twice',
      () => added('advisories/other/cup-inclination-outside-published.json', contentOf(INCLINATION)),
      {
        file: 'advisories/other/cup-inclination-outside-published.json',
        path: 'id',
        expected: `an id not used in ${INCLINATION}`,
        found: 'cup-inclination-outside-published',
      },
    ],
    [
      'a missing wording',
      () => issuesAfter(INCLINATION, 'messages.cannotTell', undefined),
      { file: INCLINATION, path: 'messages.cannotTell', expected: 'string', found: 'nothing' },
    ],
    [
      'an empty wording',
      () => issuesAfter(INCLINATION, 'messages.doesNotFire', ''),
      {
        file: INCLINATION,
        path: 'messages.doesNotFire',
        expected: 'Too small: expected string to have >=1 characters',
        found: '""',
      },
    ],
    [
      'planning options without "no change"',
      () => issuesAfter(RETROVERSION, 'findings.0.options', ['turn the cup']),
      {
        file: RETROVERSION,
        path: 'findings[0].options',
        expected: '"no change" among the options',
        found: 'turn the cup',
      },
    ],
    [
      'a member nobody knows',
      () => issuesAfter(INCLINATION, 'priority', 7),
      {
        file: INCLINATION,
        path: '',
        expected: 'no member priority',
        found: foundAs(INCLINATION, { priority: 7 }),
      },
    ],
    [
      'a computation the engine does not know',
      () => issuesAfter(INCLINATION, 'compute.luck', { computation: 'luck' }),
      { file: INCLINATION, path: 'compute.luck', expected: 'a computation that is defined', found: 'luck' },
    ],
    [
      'an unknown computation input',
      () => issuesAfter('computations/jump-distance.json', 'inputs.2.fact', 'head-colour'),
      {
        file: 'computations/jump-distance.json',
        path: 'inputs[2].fact',
        expected: 'a fact that is defined',
        found: 'head-colour',
      },
    ],
    [
      'an unknown fact that withholds a piece of work-up',
      () => issuesAfter(NEUROLOGICAL, 'findings.0.before.0.unless', 'broken-neck'),
      {
        file: NEUROLOGICAL,
        path: 'findings[0]',
        expected: 'a fact that is defined',
        found: 'broken-neck',
      },
    ],
    [
      'an unknown fact that a finding is given for',
      () => issuesAfter(STEM, 'findings.0.given.recorded.0', 'popped-out'),
      {
        file: STEM,
        path: 'findings[0].given',
        expected: 'a fact that is defined',
        found: 'popped-out',
      },
    ],
    [
      'an unknown fact whose absence a finding is given for',
      () => issuesAfter(STEM, 'findings.0.given.unknown', 'which-way'),
      {
        file: STEM,
        path: 'findings[0].given',
        expected: 'a fact that is defined',
        found: 'which-way',
      },
    ],
    [
      'a value set that has no file',
      () => issuesAfter('facts/dementia.json', 'valueSet', 'forgetfulness'),
      {
        file: 'facts/dementia.json',
        path: 'valueSet',
        expected: 'a file in value-sets/',
        found: 'forgetfulness',
      },
    ],
    ...(['procedureValueSet', 'sitedValueSet', 'unclearValueSet'] as const).map(
      (member): [string, () => readonly RulebookIssue[], RulebookIssue] => [
        `a ${member} that has no file`,
        () => issuesAfter('facts/pelvic-irradiation.json', member, 'sunburn'),
        {
          file: 'facts/pelvic-irradiation.json',
          path: member,
          expected: 'a file in value-sets/',
          found: 'sunburn',
        },
      ],
    ),
    [
      'a condition that no code can mean',
      () => issuesAfter('facts/dementia.json', 'valueSet', undefined),
      {
        file: 'facts/dementia.json',
        path: '',
        expected: 'a valueSet or a procedureValueSet',
        found: 'neither',
      },
    ],
    [
      'an operation that would have to go on',
      () => issuesAfter('facts/hip-osteotomy.json', 'status', 'current'),
      {
        file: 'facts/hip-osteotomy.json',
        path: 'status',
        expected: 'lifetime, because procedures are history',
        found: 'current',
      },
    ],
    [
      'a part in the history of operations for a value set that has no file',
      () => issuesAfter('rulebook.json', 'historyOperations.bone-setting', 'hip-operation'),
      {
        file: 'rulebook.json',
        path: 'historyOperations',
        expected: 'a file in value-sets/',
        found: 'bone-setting',
      },
    ],
    [
      'a plausible limit that is no range',
      () =>
        issuesAfter('facts/cup-inclination.json', 'plausible', parameter('cup-inclination-preferred-upper')),
      {
        file: 'facts/cup-inclination.json',
        path: 'plausible',
        expected: 'a parameter that is a range',
        found: 'cup-inclination-preferred-upper',
      },
    ],
    [
      'a measure without plausible limits',
      () => issuesAfter('facts/cup-inclination.json', 'plausible', undefined),
      {
        file: 'facts/cup-inclination.json',
        path: '',
        expected: 'a unit and plausible limits',
        found: 'cup-inclination',
      },
    ],
    [
      'a text that is no version',
      () => issuesAfter(INCLINATION, 'version', '1'),
      { file: INCLINATION, path: 'version', expected: 'major.minor.patch', found: '"1"' },
    ],
  ])('%s', (_fault, plant, issue) => {
    expect(plant()).toEqual([issue]);
    expect(formatIssue(issue)).toContain(issue.file);
  });

  it('a file that is not JSON, with its name and the reader’s complaint', () => {
    const root = mkdtempSync(join(tmpdir(), 'kotyle-rules-'));
    try {
      cpSync(RULES, root, { recursive: true });
      writeFileSync(join(root, INCLINATION), '{ "id": "cup-inclination-outside-published", ');
      const [issue] = issuesOf(readPack(root));
      expect(issue).toMatchObject({ file: INCLINATION, path: '', expected: 'object' });
      expect(issue?.found).toMatch(/^"not JSON: /);
      expect(() => loadRulebook(root, COMPUTATION_IDS)).toThrow(
        new RegExp(`${INCLINATION}: expected object, found "not JSON`),
      );
    } finally {
      rmSync(root, { recursive: true });
    }
  });

  it.each([
    'rulebook.json',
    'code-systems/aliases.json',
    'code-systems/laterality-icd-10-cm.json',
    'code-systems/laterality-icd-10-pcs.json',
    'code-systems/laterality-snomed-ct.json',
  ])('a missing %s', (path) => {
    const issues = issuesOf({ files: shippedPack.files.filter((file) => file.path !== path) });
    expect(issues.find(({ file }) => file === path)).toMatchObject({ found: 'nothing' });
  });

  it('every file that is not JSON, whichever folder it stands in', () => {
    for (const { path } of each(4, shippedPack.files)) {
      const issues = issuesWith(path, 'not JSON: Unexpected end of JSON input');
      expect(
        issues.map(({ file }) => file),
        path,
      ).toContain(path);
    }
  });

  it('a file in a folder that nothing reads, because a misspelt folder would silence its rule', () => {
    for (const path of ['advisory/placement/new-rule.json', 'notes.json', 'code-systems/unheard-of.json']) {
      expect(
        added(path, { id: 'new-rule' }).map(({ file }) => file),
        path,
      ).toEqual([path]);
    }
  });

  it.each([
    ['facts/dementia.json', 'facts/demented.json'],
    ['citations/murray-1993.json', 'citations/murray-1994.json'],
    ['computations/jump-distance.json', 'computations/jump.json'],
    ['computations/cup-position.json', 'computations/cup-positions.json'],
    ['conditions/instability-trigger.json', 'conditions/trigger.json'],
    ['value-sets/dementia.json', 'value-sets/demented.json'],
    ['value-sets/snomed-overlay/dementia.json', 'value-sets/snomed-overlay/demented.json'],
  ])('an id that is not its file name, %s under the name %s', (path, other) => {
    const files = shippedPack.files.map((file) => (file.path === path ? { ...file, path: other } : file));
    expect(issuesOf({ files }).map((issue) => `${issue.file} ${issue.path}`)).toContain(`${other} id`);
  });

  it.each([
    'facts/dementia.json',
    'citations/murray-1993.json',
    'computations/jump-distance.json',
    'computations/cup-position.json',
    'conditions/instability-trigger.json',
    'value-sets/dementia.json',
  ])('an id used twice, by a copy of %s in a folder below', (path) => {
    const copy = path.replace('/', '/copy/');
    expect(added(copy, contentOf(path)).map(({ file }) => file)).toContain(copy);
  });

  it.each<[string, string, unknown]>([
    ['an undefined parameter', 'jump-at-center.with.cup-inclination', parameter('nowhere')],
    ['a range for a number', 'jump-at-center.with.cup-inclination', parameter('plausible-cup-inclination')],
    ['another unit', 'jump-at-center.with.cup-inclination', parameter('head-diameter-step')],
    [
      'no input of the computation',
      'jump-at-center.with',
      { 'stem-anteversion': parameter('stem-anteversion-default') },
    ],
    ['a number computed nowhere', 'jump-of-same-head.with.effective-head-diameter', { computed: 'nothing' }],
    ['a step that is no parameter', 'head-gain.change.step', parameter('nowhere')],
    ['a range that is none', 'same-head.matching.within', parameter('head-diameter-step')],
    ['a match for a number computed nowhere', 'same-head.matching.equals', 'nothing'],
  ])('a computed number with %s', (_fault, pointer, value) => {
    expect(issuesAfter(INCLINATION, `compute.${pointer}`, value)).toMatchObject([{ file: INCLINATION }]);
  });

  it.each<[string, string, unknown]>([
    ['a line that is none', 'cup-asked.line.parameter', 'combined-anteversion-posterior-low'],
    ['a line nobody defined', 'cup-asked.line.parameter', 'nowhere'],
    ['a line that is only quoted', 'cup-asked.line.parameter', 'combined-version-line-84'],
    ['a stem that is no angle', 'cup-asked.line.stem', 'neck-diameter'],
    ['a stem nobody defined', 'cup-asked.line.stem', 'shaft'],
    ['a limit in another unit', 'cup-within.line.atMost', parameter('head-diameter-step')],
  ])('a cup for a stem with %s', (_fault, pointer, value) => {
    const issues = issuesAfter(STEM, `compute.${pointer}`, value);
    expect(issues.length).toBeGreaterThan(0);
    expect(issues.every(({ file, path }) => file === STEM && path.includes('.line'))).toBe(true);
  });

  it.each<[string, unknown]>([
    ['a condition nobody wrote', { condition: 'no-such-pelvis' }],
    ['an unknown fact', { fact: 'shaft', operator: 'recorded', value: true }],
    ['an operator that does not fit', { fact: 'component-retained', operator: 'above', value: 'stem' }],
    ['a code it can not have', { fact: 'component-retained', operator: 'equal', value: 'screw' }],
    [
      'a limit that is only quoted',
      { fact: 'leg-length-change', operator: 'above', value: parameter('offset-loss-severe') },
    ],
  ])('a finding that holds where %s says', (_fault, where) => {
    const issues = issuesAfter(STEM, 'findings.0.where', where);
    expect(issues.length).toBeGreaterThan(0);
    expect(issues.every(({ file, path }) => file === STEM && path.startsWith('findings[0].where'))).toBe(
      true,
    );
  });

  it.each(['plausible-neck-diameter', 'neck-shaft-angle-default', 'neuromuscular-conventional-liner'])(
    'a default that is no number, in another unit or only quoted: %s for a neck diameter',
    (id) => {
      const path = 'computations/head-neck-ratio.json';
      expect(issuesAfter(path, 'inputs.1.whenMissing.default', parameter(id))).toMatchObject([
        { file: path },
      ]);
    },
  );

  it.each<[string, string, string, unknown]>([
    ['a summary', RETROVERSION, 'findings.0.summary', ['cup {cup-colour}']],
    ['what was found', RETROVERSION, 'findings.0.found', ['planned {cup-inclnation}']],
    ['an option', RETROVERSION, 'findings.0.options', ['no change', '{nothing}']],
    ['how sure it is', RETROVERSION, 'findings.0.sure', 'low {nothing}'],
    ['an effect', NEUROLOGICAL, 'effects.0.says', 'OR {dementia.hr}'],
  ])('a placeholder that nothing can fill, in %s', (_where, file, pointer, value) => {
    expect(issuesAfter(file, pointer, value)).toMatchObject([{ file }]);
  });

  it.each<[string, string, Readonly<Record<string, string>>, string, string]>([
    [
      'an input it has not',
      'combined-anteversion',
      { 'cup-inclination': 'cup-anteversion' },
      '',
      'an input of combined-anteversion',
    ],
    [
      'a fact nobody defines',
      'combined-anteversion',
      { 'cup-anteversion': 'cup-colour' },
      '.cup-anteversion',
      'a fact that is defined',
    ],
    [
      'a computation',
      'combined-anteversion',
      { 'cup-anteversion': 'oscillation-angle' },
      '.cup-anteversion',
      'a fact that is defined',
    ],
    [
      'the input itself',
      'combined-anteversion',
      { 'cup-anteversion': 'cup-anteversion' },
      '.cup-anteversion',
      'another fact than the input itself',
    ],
    [
      'a code',
      'combined-anteversion',
      { 'cup-anteversion': 'liner-type' },
      '.cup-anteversion',
      'a fact that is a number',
    ],
    [
      'a fact in another unit',
      'combined-anteversion',
      { 'cup-anteversion': 'head-diameter' },
      '.cup-anteversion',
      'a fact in deg',
    ],
    ['nothing at all', 'combined-anteversion', {}, '', 'at least one replaced input'],
    [
      'an input of a fact, which has none',
      'cup-inclination',
      { 'cup-anteversion': 'cup-anteversion-operative' },
      '',
      'a computation, whose inputs may be replaced',
    ],
  ])('a condition that replaces %s', (_fault, fact, replaced, path, expected) => {
    const found = when({
      fact,
      with: replaced,
      operator: 'above',
      value: parameter('cup-retroversion-limit'),
    });
    expect(found).toContainEqual(
      expect.objectContaining({ file: RETROVERSION, path: `when.with${path}`, expected }),
    );
  });

  it.each<[string, unknown, string]>([
    ['a fact nobody defines', { fact: 'cup-colour' }, 'a fact that is defined'],
    ['the input itself', { fact: 'cup-inclination' }, 'another fact than the input itself'],
    ['a fact in another unit', { fact: 'neck-diameter' }, 'a fact in deg'],
    ['a fact without a unit', { fact: 'liner-type' }, 'a fact in deg'],
  ])('a computed number in which %s stands in for an input', (_fault, source, expected) => {
    const path = 'compute.jump-at-center.with.cup-inclination';
    expect(issuesAfter(INCLINATION, path, source)).toMatchObject([{ file: INCLINATION, path, expected }]);
  });

  it('a stage that the input is never recorded at, or that it has not at all', () => {
    const path = 'computations/projected-leg-length-discrepancy.json';
    expect(issuesAfter(path, 'inputs.0.stage', 'planned')).toEqual([
      {
        file: path,
        path: 'inputs[0].stage',
        expected: 'a stage of leg-length-discrepancy',
        found: 'planned',
      },
    ]);
    const derived = 'computations/spinopelvic-mobility.json';
    expect(issuesAfter(derived, 'inputs.0.stage', 'native')).toMatchObject([{ file: derived }]);
  });

  it('a method said to show the sign of a cup that is no method', () => {
    expect(issuesAfter('rulebook.json', 'methodsShowingSign', ['ct', 'guess'])).toEqual([
      {
        file: 'rulebook.json',
        path: 'methodsShowingSign',
        expected: 'a method of qualifiers',
        found: 'guess',
      },
    ]);
  });

  it('a remark without words', () => {
    for (const words of [undefined, ''])
      expect(issuesAfter('rulebook.json', 'remarks.signNotConfirmed', words)).toMatchObject([
        { file: 'rulebook.json', path: 'remarks.signNotConfirmed' },
      ]);
  });

  it('a finding for a part of the condition that has no such name', () => {
    expect(issuesAfter(INCLINATION, 'findings.0.node', 'stepe')).toMatchObject([{ file: INCLINATION }]);
  });

  it('a finding that neither offers, checks nor prepares anything', () => {
    expect(issuesAfter(RETROVERSION, 'findings.0.options', undefined)).toMatchObject([
      { file: RETROVERSION },
    ]);
  });

  it('a rule that fires at an entry where none of its findings fits', () => {
    const [booking] = contentOf(NEUROLOGICAL)['findings'] as readonly unknown[];
    expect(issuesAfter(NEUROLOGICAL, 'findings', [booking])).toMatchObject([{ file: NEUROLOGICAL }]);
  });

  it('"no change" among the checks of a card about side, identity or data', () => {
    // Truth: clinical decisions §2: such cards carry checks and never "no change".
    expect(issuesAfter(SIDE, 'findings.0.checks', ['no change'])).toMatchObject([{ file: SIDE }]);
  });

  it('a parameter that nothing uses', () => {
    // Truth: style of the project, §7: loading checks that parameters are used and defined.
    const spare = added('computations/spare.json', {
      id: 'spare',
      kind: 'parameters',
      title: 's',
      parameters: [
        {
          id: 'spare-limit',
          value: 1,
          unit: 'deg',
          use: 'threshold',
          readAt: 'derived here',
          certainty: 'low',
          records: [],
          citations: [],
          why: 'w',
        },
      ],
    });
    expect(spare).not.toEqual([]);
  });
});

describe('what is no fault is not reported:', () => {
  it('two codes of a measure that may have several at once', () => {
    // Truth: closed form; cup and stem may both be retained, so "both" is a real question.
    const retained = contentOf('facts/component-retained.json');
    expect(retained['repeats']).toBe(true);
    const [first, second] = retained['values'] as readonly string[];
    expect(
      when({
        all: [leaf('component-retained', 'equal', first), leaf('component-retained', 'equal', second)],
      }),
    ).toEqual([]);
  });

  it('a fact asked twice in a way that its value decides', () => {
    // Truth: closed form.
    expect(
      when({
        all: [
          leaf('cup-inclination', 'above', parameter('cup-inclination-upper-limit')),
          leaf('cup-inclination', 'at-most', parameter('cup-inclination-published-high')),
        ],
      }),
    ).toEqual([]);
    expect(
      when({
        any: [
          leaf('cup-inclination', 'above', parameter('cup-inclination-published-high')),
          {
            all: [
              leaf('cup-inclination', 'below', parameter('cup-inclination-published-low')),
              leaf('dementia', 'recorded', true),
            ],
          },
        ],
      }),
    ).toEqual([]);
  });

  it('a plan compared with what is never measured afterwards, or in another unit', () => {
    // Truth: closed form; such a plan would never have anything to be held against.
    const plan = 'facts/planned-cup-inclination.json';
    expect(issuesAfter(plan, 'of', 'native-flexion').map(({ path }) => path)).toContain('of');
    expect(issuesAfter(plan, 'of', 'no-such-measure').map(({ path }) => path)).toContain('of');
    expect(issuesAfter(plan, 'unit', 'mm').map(({ path }) => path)).toContain('unit');
  });

  it('motions put into a computation that runs none, and motions that are none', () => {
    // Truth: closed form.
    const pose = 'compute.margin-standing.motionSet';
    expect(issuesAfter(SPINE, pose, parameter('film-tilt-default')).map(({ path }) => path)).toContain(pose);
    expect(
      issuesAfter(SPINE, 'compute.mismatch.motionSet', parameter('motion-set-standing-v1')).map(
        ({ path }) => path,
      ),
    ).toContain('compute.mismatch.motionSet');
  });

  it('an effect that hangs on a part of the condition nobody named', () => {
    expect(issuesAfter(SPINE, 'effects.0.node', 'nowhere').map(({ path }) => path)).toEqual([
      'effects[0].node',
    ]);
  });

  it('and one fault more is found beside another, in one go', () => {
    // Truth: a service that never runs on half a rulebook must not make its author fix faults one at a time.
    const files = shippedPack.files.map((file) => {
      if (file.path === INCLINATION)
        return { ...file, content: { ...(file.content as object), id: 'other' } };
      if (file.path === RATIO) return { ...file, content: { ...(file.content as object), priority: 1 } };
      return file;
    });
    expect(issuesOf({ files }).map(({ file }) => file)).toEqual([RATIO, INCLINATION]);
  });
});

/** What a report shows of a file's content, cut at 60 characters. */
function foundAs(path: string, more: object): string {
  const text = JSON.stringify({ ...(contentOf(path) as object), ...more });
  return text.length > 60 ? `${text.slice(0, 59)}…` : text;
}

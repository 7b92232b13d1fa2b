import { describe, expect, it } from 'vitest';
import { COMPUTATION_IDS } from '../../src/advice/index.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { buildRulebook } from '../../src/rulebook/build.js';
import { constantGroups } from '../../src/rulebook/constant-groups.js';
import { localRulebook } from '../../src/rulebook/local-rulebook.js';
import { formatIssue } from '../../src/rulebook/pack.js';
import type { PackFile } from '../../src/rulebook/pack.js';
import { parseSite } from '../../src/rulebook/site.js';
import { readReleases } from '../../src/rulebook-files/read-release.js';
import { filesWith, siteFiles, siteOf } from '../facts/sites.js';
import { RULES, shipped, shippedPack } from './shipped.js';

// Truth throughout: integration decisions section 4: narrow, not rewrite; outside what is allowed nothing is loaded, and
// it is said where.

const BARE = filesWith();

function withMembers(members: JsonObject, files: readonly PackFile[] = BARE): readonly PackFile[] {
  return files.map((file, index) =>
    index === 0 ? { ...file, content: { ...(file.content as JsonObject), ...members } } : file,
  );
}

function faultsOf(members: JsonObject): readonly string[] {
  const result = parseSite(withMembers(members), shipped);
  return result.ok ? [] : result.issues.map(formatIssue);
}

const DECIDED = { why: 'a reason', by: 'the hip team', date: '2026-11-02', until: '2027-11-01' };
const RULE = 'cup-inclination-above-classical';
const LIMIT = 'cup-inclination-upper-limit';
const rule = (settings: JsonObject, id = RULE): JsonObject => ({
  rules: { [id]: { ...DECIDED, ...settings } },
});
const limit = (settings: JsonObject, id = LIMIT): JsonObject => ({
  parameters: { [id]: { ...DECIDED, value: 48, unit: 'deg', ...settings } },
});
const approval = { by: 'N. N.', role: 'clinical lead', date: '2026-11-02', contentHash: shipped.hash };

describe('what a site may decide', () => {
  it.each<[string, JsonObject]>([
    ['nothing', {}],
    [
      'states of its services',
      { services: { 'hip-stability-order': 'speak', 'hip-stability-chart': 'off' } },
    ],
    ['a silent rule', rule({ state: 'silent' })],
    ['a rule that is off', rule({ state: 'off' })],
    ['a rule at fewer hooks', rule({ hooks: ['order-sign'] })],
    ['a note and an earlier review', rule({ note: 'see the local plan', reviewBy: '2027-01-01' })],
    ['a silent rule that is locked', rule({ state: 'silent' }, 'hip-side-conflict')],
    ['a limit at the lower end of what is allowed', limit({ value: 45 })],
    ['a limit at the upper end', limit({ value: 55 })],
    ['two signatures on one content', { approvals: [approval, { ...approval, by: 'M. M.' }] }],
    ['settings whose day has passed', rule({ state: 'off', date: '2020-01-01', until: '2020-12-31' })],
  ])('includes %s', (_what, members) => {
    expect(faultsOf(members)).toEqual([]);
  });

  it.each<[string, JsonObject, string]>([
    [
      'an unknown service',
      { services: { 'knee-stability': 'off' } },
      'site.json at services: expected no member knee-stability',
    ],
    [
      'an unknown state',
      { services: { 'hip-stability-chart': 'loud' } },
      'services.hip-stability-chart: expected one of off, silent, speak, found "loud"',
    ],
    [
      'an unknown rule',
      rule({ state: 'off' }, 'no-such-rule'),
      'site.json at rules.no-such-rule: expected a rule of the rulebook, found no-such-rule',
    ],
    [
      'a rule without a reason',
      { rules: { [RULE]: { state: 'off', by: 'x', date: '2026-11-02', until: '2027-01-01' } } },
      `rules.${RULE}.why: expected string, found nothing`,
    ],
    [
      'a rule without an end',
      { rules: { [RULE]: { state: 'off', by: 'x', why: 'y', date: '2026-11-02' } } },
      `rules.${RULE}.until: expected string, found nothing`,
    ],
    [
      'a rule without anybody who decided',
      { rules: { [RULE]: { ...DECIDED, state: 'off', by: ' ' } } },
      `rules.${RULE}.by: expected a text`,
    ],
    ['a rule about which nothing is set', rule({}), `rules.${RULE}: expected state, hooks, note or reviewBy`],
    [
      'a day that is none',
      rule({ state: 'off', until: '2027-02-30' }),
      `rules.${RULE}.until: expected a date such as 2026-11-02, found "2027-02-30"`,
    ],
    [
      'a day that is a text',
      rule({ state: 'off', date: 'soon' }),
      `rules.${RULE}.date: expected a date such as 2026-11-02, found "soon"`,
    ],
    [
      'an end before the decision',
      rule({ state: 'off', until: '2026-11-01' }),
      `rules.${RULE}.until: expected a day from 2026-11-02 on, when it was decided, found 2026-11-01`,
    ],
    [
      'a hook the rule does not have',
      rule({ hooks: ['appointment-book'] }),
      `rules.${RULE}.hooks[0]: expected one of order-select, order-sign, patient-view, found appointment-book`,
    ],
    [
      'a hook twice',
      rule({ hooks: ['order-sign', 'order-sign'] }),
      `rules.${RULE}.hooks[1]: expected each hook once, found order-sign`,
    ],
    ['no hook at all', rule({ hooks: [] }), `rules.${RULE}.hooks`],
    [
      'a later review than the rule’s own',
      rule({ reviewBy: '2030-01-01' }),
      `rules.${RULE}.reviewBy: expected a day up to 2027-11-01, the rule's own, found 2030-01-01`,
    ],
    [
      'a note with markup',
      rule({ note: '<b>see</b>' }),
      `rules.${RULE}.note: expected up to 200 characters without markup`,
    ],
    [
      'a note of two lines',
      rule({ note: 'see\nhere' }),
      `rules.${RULE}.note: expected up to 200 characters without markup`,
    ],
    [
      'an unknown setting of a rule',
      rule({ state: 'off', indicator: 'info' }),
      `rules.${RULE}: expected no member indicator`,
    ],
    [
      'an unknown parameter',
      limit({}, 'no-such-limit'),
      'site.json at parameters.no-such-limit: expected a parameter a site may set: ',
    ],
    [
      'a parameter that is nobody’s to set',
      limit({ value: 60 }, 'cup-inclination-published-high'),
      'parameters.cup-inclination-published-high: expected a parameter a site may set: ',
    ],
    [
      'a limit below what is allowed',
      limit({ value: 44.9 }),
      `site.json at parameters.${LIMIT}.value: expected a number from 45 to 55 deg, found 44.9`,
    ],
    [
      'a limit above what is allowed',
      limit({ value: 60 }),
      `site.json at parameters.${LIMIT}.value: expected a number from 45 to 55 deg, found 60`,
    ],
    ['a limit in another unit', limit({ unit: 'mm' }), `parameters.${LIMIT}.unit: expected deg, found mm`],
    [
      'a limit that is a text',
      limit({ value: '48' }),
      `parameters.${LIMIT}.value: expected number, found "48"`,
    ],
    [
      'a limit without an end',
      { parameters: { [LIMIT]: { value: 48, unit: 'deg', why: 'x', by: 'y', date: '2026-11-02' } } },
      `parameters.${LIMIT}.until: expected string, found nothing`,
    ],
    [
      'a signature under no hash',
      { approvals: [{ ...approval, contentHash: 'sha256-1' }] },
      'approvals[0].contentHash: expected sha256- and 64 hex digits',
    ],
    ['a signature by nobody', { approvals: [{ ...approval, by: '' }] }, 'approvals[0].by: expected a text'],
    [
      'a signature on no day',
      { approvals: [{ ...approval, date: '2026-13-01' }] },
      'approvals[0].date: expected a date such as 2026-11-02',
    ],
    [
      'the same signature twice',
      { approvals: [approval, approval] },
      'site.json at approvals[1]: expected each approval once',
    ],
  ])('leaves out %s, and the whole is refused', (_what, members, fault) => {
    expect(faultsOf(members).join('\n')).toContain(fault);
  });

  it('never includes turning off a rule about whose side, whose record, impossible values or unread data', () => {
    const { locked = [] } = shipped.about.governance ?? {};
    expect(locked).toEqual(
      expect.arrayContaining([
        'hip-side-conflict',
        'other-patient-record',
        'measure-implausible-or-conflicting',
        'record-unreadable',
      ]),
    );
    for (const id of locked)
      expect(faultsOf(rule({ state: 'off' }, id))).toEqual([
        `site.json at rules.${id}.state: expected silent or speak, as no site can turn this rule off, found off`,
      ]);
    const others = shipped.rules.filter(({ id }) => !locked.includes(id));
    for (const { id } of others) expect(faultsOf(rule({ state: 'off' }, id)), id).toEqual([]);
  });

  it('is nothing about rules and limits beside a rulebook that does not say what is locked', () => {
    const { governance, ...about } = shipped.about;
    expect(governance).toBeDefined();
    const members = { ...rule({ state: 'silent' }), services: { 'hip-stability-order': 'silent' } };
    const result = parseSite(withMembers(members), { ...shipped, about });
    expect(result.ok ? [] : result.issues.map(formatIssue)).toEqual([
      `site.json at rules.${RULE}: expected nothing, as this rulebook does not say what a site may set, found ${RULE}`,
    ]);
  });

  it('tells every fault, not only the first', () => {
    const faults = faultsOf({
      ...limit({ value: 60, unit: 'mm' }),
      ...rule({ state: 'off' }, 'hip-side-conflict'),
    });
    expect(faults).toHaveLength(3);
  });
});

describe('the hash that is signed', () => {
  const signedHash = siteOf(siteFiles).hash;

  it('stays the same when somebody signs', () => {
    expect(siteOf(withMembers({ approvals: [approval] }, siteFiles)).hash).toBe(signedHash);
  });

  it('becomes another with every member of the site file', () => {
    const [site] = siteFiles;
    const content = site?.content as JsonObject;
    const DROPPED = Object.keys(content).filter(
      (name) => !['id', 'version', 'approvals', 'maps'].includes(name),
    );
    expect(DROPPED.length).toBeGreaterThan(6);
    for (const name of DROPPED) {
      const others = Object.fromEntries(Object.entries(content).filter(([member]) => member !== name));
      const edited = siteFiles.map((file, index) => (index === 0 ? { ...file, content: others } : file));
      expect(siteOf(edited).hash, name).not.toBe(signedHash);
    }
    for (const name of ['id', 'version'])
      expect(siteOf(withMembers({ [name]: 'another' }, siteFiles)).hash, name).not.toBe(signedHash);
    const shorter = content['maps'] as readonly string[];
    const fewer = withMembers({ maps: shorter.slice(1) }, siteFiles).filter(
      ({ path }) => path !== shorter[0],
    );
    expect(siteOf(fewer).hash).not.toBe(signedHash);
  });

  it('becomes another with every map', () => {
    for (const { path } of siteFiles.slice(1)) {
      const edited = siteFiles.map((file) =>
        file.path === path ? { path, content: { ...(file.content as JsonObject), title: 'edited' } } : file,
      );
      expect(siteOf(edited).hash, path).not.toBe(signedHash);
    }
  });

  it('becomes another with every file of the rulebook', () => {
    // Closed form: the rulebook's own hash is over every file, so one other hash stands for any edit.
    const edited = parseSite(siteFiles, { ...shipped, hash: `sha256-${'0'.repeat(64)}` });
    if (!edited.ok) throw new Error('expected a site');
    expect(edited.site.hash).not.toBe(signedHash);
  });
});

describe('a parameter a site may set', () => {
  const settable = [...shipped.parameters.values()].filter(({ allowed }) => allowed);

  it('leaves every rule one that can fire and can keep quiet, at both ends of what is allowed', () => {
    expect(settable.length).toBeGreaterThan(3);
    for (const { id, allowed } of settable)
      for (const value of [allowed?.low ?? 0, allowed?.high ?? 0]) {
        const local = localRulebook(shipped, { limits: new Map([[id, value]]), off: new Set() });
        const constant = local.rules.flatMap((one) => [
          ...constantGroups(one.when),
          ...constantGroups(one.appliesWhen),
        ]);
        expect(constant, `${id} ${value}`).toEqual([]);
      }
  });

  it('replaces a number and leaves the rulebook given as it was', () => {
    const before = JSON.stringify([...shipped.parameters, shipped.rules]);
    const local = localRulebook(shipped, { limits: new Map([[LIMIT, 48]]), off: new Set() });
    expect(local.parameters.get(LIMIT)?.value).toBe(48);
    expect(local.shippedLimits).toEqual(new Map([[LIMIT, 50]]));
    expect([local.hash, local.about]).toEqual([shipped.hash, shipped.about]);
    expect(JSON.stringify([...shipped.parameters, shipped.rules])).toBe(before);
  });
});

// Truth: style of the project, section 7: loading checks what a rulebook names; a lock on nothing would lock nothing.
describe('a rulebook', () => {
  function faultsAfter(path: string, change: (content: JsonObject) => JsonObject): readonly string[] {
    const files = shippedPack.files.map((file) =>
      file.path === path ? { path, content: change(file.content as JsonObject) } : file,
    );
    const result = buildRulebook({ files }, COMPUTATION_IDS);
    return result.ok ? [] : result.issues.map(formatIssue);
  }

  const FILE = 'computations/cup-position.json';

  function withAllowed(id: string, allowed: JsonObject, more: JsonObject = {}): readonly string[] {
    return faultsAfter(FILE, (content) => ({
      ...content,
      parameters: (content['parameters'] as readonly JsonObject[]).map((one) =>
        one['id'] === id ? { ...one, allowed: { says: 'x', why: 'y', ...allowed }, ...more } : one,
      ),
    }));
  }

  it.each([
    [['no-such-rule'], 'locked[0]: expected a rule that has a card, named once, found no-such-rule'],
    [['hip-side-conflict', 'hip-side-conflict'], 'locked[1]: expected a rule that has a card, named once'],
    [['diagnoses-line'], 'locked[0]: expected a rule that has a card, named once, found diagnoses-line'],
  ])('that locks %j is refused', (locked, fault) => {
    expect(
      faultsAfter('rulebook.json', (content) => ({
        ...content,
        governance: { ...(content['governance'] as JsonObject), locked },
      })).join('\n'),
    ).toContain(fault);
  });

  it.each<[string, readonly string[], string]>([
    [
      'an interval without the value',
      withAllowed(LIMIT, { low: 51, high: 55 }),
      'expected an interval around 50, found 51 to 55',
    ],
    [
      'an interval turned around',
      withAllowed(LIMIT, { low: 55, high: 45 }),
      'expected low below high, found 55 and 45',
    ],
    [
      'an interval of a default',
      withAllowed('cup-inclination-classical-center', { low: 30, high: 50 }),
      'expected a threshold or a tolerance, found default',
    ],
    [
      'an interval of a number only quoted',
      withAllowed(LIMIT, { low: 45, high: 55 }, { use: 'quoted' }),
      'expected a threshold or a tolerance, found quoted',
    ],
    ['an interval without a reason', withAllowed(LIMIT, { low: 45, high: 55, why: '' }), 'allowed.why'],
  ])('that allows %s is refused', (_what, faults, fault) => {
    expect(faults.join('\n')).toContain(fault);
  });

  it('that allows a site to set a limit, and names no rule that is locked, is refused', () => {
    const faults = faultsAfter('rulebook.json', ({ governance, ...content }) => {
      expect(governance).toBeDefined();
      return content;
    });
    expect(faults).toContain(
      `${FILE} at parameters.${LIMIT}.allowed: expected none, as rulebook.json has no governance, found ${LIMIT}`,
    );
  });

  it('of before a site could decide anything is still one that can be loaded', () => {
    const released = readReleases(RULES).find(({ version }) => version === '2026.11.0');
    if (!released?.read.ok) throw new Error('expected the first release');
    const result = buildRulebook(released.read.pack, COMPUTATION_IDS);
    expect(result.ok ? [] : result.issues.map(formatIssue)).toEqual([]);
  });

  it('that allows a site to set what facts are read by is refused', () => {
    const faults = faultsAfter('computations/conflict-limits.json', (content) => ({
      ...content,
      parameters: (content['parameters'] as readonly JsonObject[]).map((one) =>
        one['id'] === 'conflict-leg-length'
          ? { ...one, allowed: { low: 2, high: 6, says: 'x', why: 'y' } }
          : one,
      ),
    }));
    expect(faults.join('\n')).toContain('expected a parameter that only rules and named conditions use');
  });
});

import { describe, expect, it } from 'vitest';
import type { Hook } from '../../../src/advice/index.js';
import type { JsonObject } from '../../../src/fhir/json.js';
import type { Site } from '../../../src/rulebook/site.js';
import type {
  EntryFigures,
  Readiness,
  RuleFigures,
} from '../../../src/workbench/readiness/readiness-types.js';
import { inputFor, rulebook, testPatient, testPatients } from '../../advice/patients.js';
import { filesWith, line, mapOf, northCampus, ORDERS, siteOf } from '../../facts/sites.js';
import { bundleMember, callMember, readinessWith, settingWith } from './samples.js';

function entry({ entries }: Readiness, hook: Hook): EntryFigures {
  const found = entries.find((one) => one.hook === hook);
  if (!found) throw new Error(`no figures of ${hook}`);
  return found;
}

function figures({ rules }: Readiness, rule: string): RuleFigures {
  const found = rules.find((one) => one.rule === rule);
  if (!found) throw new Error(`no figures of ${rule}`);
  return found;
}

function member(name: string): ReturnType<typeof bundleMember> {
  return bundleMember(testPatient(name).bundle);
}

/** A test patient's order at one hook, as a recorded call. */
function call(
  name: string,
  hook: Hook,
  bundle: JsonObject = testPatient(name).bundle,
): ReturnType<typeof callMember> {
  const input = inputFor(bundle, hook);
  if (!input) throw new Error(`${name} has nothing for ${hook}`);
  return callMember(input);
}

describe('the readiness of a sample', () => {
  // Truth: the cards written down in expected.json for every test patient, by hand.
  it('counts the cards written down for all test patients, at booking and at signing', async () => {
    const patients = testPatients().filter(({ expected }) => expected.now.startsWith('2026-11-24'));
    expect(patients.length).toBeGreaterThan(100);
    const result = await readinessWith(patients.map(({ bundle }) => bundleMember(bundle)));
    for (const hook of ['appointment-book', 'order-sign'] as const) {
      const expected = patients.flatMap(({ expected: { cards } }) => cards[hook] ?? []);
      const cards = entry(result, hook).callsByCards.reduce((sum, calls, count) => sum + calls * count, 0);
      expect([hook, cards]).toEqual([hook, expected.length]);
      const warned = patients.filter(({ expected: { cards: told } }) =>
        (told[hook] ?? []).some(({ indicator }) => indicator === 'warning'),
      );
      expect([hook, entry(result, hook).callsWith.warning]).toEqual([hook, warned.length]);
    }
  });

  it('gives each rule three denominators: calls, recognised calls and hips', async () => {
    const steep = 'steep-cup-large-head';
    const result = await readinessWith([
      call(steep, 'patient-view'),
      call('textbook-hip', 'patient-view'),
      call('staged-bilateral', 'patient-view'),
      call('knee-replacement', 'patient-view'),
      call(steep, 'appointment-book'),
    ]);
    const { calls, recognised, hips } = entry(result, 'patient-view');
    // By hand: four charts, one of a knee, one of two hips. The rule is not asked at booking.
    expect({ calls, yes: recognised.yes, no: recognised.no, hips }).toEqual({
      calls: 4,
      yes: 3,
      no: 1,
      hips: 4,
    });
    const rule = testPatient(steep).expected.cards['order-sign']?.[0]?.rule ?? '';
    const found = figures(result, rule);
    expect(found.hooks).not.toContain('appointment-book');
    expect([found.calls, found.recognised, found.hips]).toEqual([4, 3, 4]);
    expect(found.callsFiring).toBe(1);
    expect(found.outcomes.fires).toBe(1);
    expect(found.cards).toBe(1);
    const outcomes = Object.values(found.outcomes).reduce((sum, count) => sum + count, 0);
    expect(outcomes).toBe(4);
  });

  it('tells recognition by what made it: a coding system, or what lies in the hip', async () => {
    const result = await readinessWith([call('textbook-hip', 'order-sign'), member('nothing-known')]);
    expect(entry(result, 'order-sign').by[0]?.what).toBe('http://snomed.info/sct');
    const unobtainable = inputFor(testPatient('textbook-hip').bundle, 'patient-view');
    const bare = { ...unobtainable, prefetch: {}, fetched: new Map() } as NonNullable<typeof unobtainable>;
    const without = await readinessWith([callMember(bare), callMember({ ...bare, userId: 'Patient/p' })]);
    // A chart of which no set was sent can't be told from any other: unknown, and never "no".
    expect(entry(without, 'patient-view').recognised).toMatchObject({ unknown: 1, no: 0, lay: 1 });
  });

  it('finds the measures of the textbook hip at the stage they were recorded in', async () => {
    const result = await readinessWith([member('textbook-hip')]);
    const found = new Map(result.facts.map((fact) => [fact.fact, fact]));
    expect(result.hips).toEqual({ planned: 1, 'in-place': 0, sideless: 0 });
    expect(found.get('cup-inclination')?.found).toEqual({ planned: 1 });
    expect(found.get('femoral-offset-change')?.found ?? {}).toEqual({});
    const listed = result.facts.filter(({ kind }) => kind === 'measure').length;
    expect(listed).toBe(rulebook.facts.filter(({ kind }) => kind === 'measure').length);
  });

  it('counts a hip once for a member however many hooks saw it, and a sideless hip not at all', async () => {
    const result = await readinessWith([member('textbook-hip'), member('staged-bilateral')]);
    expect(result.hips.planned).toBe(3);
    expect(entry(result, 'order-sign').hips + entry(result, 'appointment-book').hips).toBeGreaterThan(3);
  });

  it('names what cannot-tell outcomes ask for, and the sets that were not sent', async () => {
    const input = inputFor(testPatient('textbook-hip').bundle, 'order-sign');
    if (!input) throw new Error('nothing to sign');
    const prefetch = { ...input.prefetch };
    delete prefetch['conditions'];
    const result = await readinessWith([callMember({ ...input, prefetch })]);
    expect(result.sets.find(({ key }) => key === 'conditions')).toMatchObject({ absent: 1, complete: 0 });
    expect(result.sets.find(({ key }) => key === 'procedures')).toMatchObject({ absent: 0, complete: 1 });
    expect(result.missing.some(({ fact }) => fact === 'parkinson-disease')).toBe(true);
  });

  it('counts members that can not be read by why, and goes on', async () => {
    const told: string[] = [];
    const why = 'expected JSON, found something else';
    const result = await readinessWith(
      [{ where: 'line 1', why }, member('textbook-hip'), { where: 'line 3', why }],
      { onUnreadable: (where) => void told.push(where) },
    );
    expect(result.sample).toMatchObject({ members: 3, bundles: 1, unreadable: [{ why, count: 2 }] });
    expect(told).toEqual(['line 1', 'line 3']);
  });

  it('is the same for the same sample, and holds nothing of a patient', async () => {
    const marked = JSON.parse(
      JSON.stringify(testPatient('demo-parkinson-steep-cup').bundle).replaceAll('patient-', 'zqxmarker-'),
    ) as JsonObject;
    const sample = (): readonly ReturnType<typeof member>[] => [
      bundleMember(marked),
      member('staged-bilateral'),
    ];
    const [one, other] = [await readinessWith(sample()), await readinessWith(sample())];
    expect(JSON.stringify(one)).toBe(JSON.stringify(other));
    expect(JSON.stringify(one)).not.toContain('zqxmarker');
    // Days tell more about a person than a committee needs; the report's own time is its only instant.
    expect(JSON.stringify(one.sample)).not.toMatch(/\d{4}-\d{2}-\d{2}/);
  });

  it('measures how long advice takes only where it is asked to', async () => {
    expect((await readinessWith([member('textbook-hip')])).latency).toBeUndefined();
    let now = 0;
    const elapsedMs = (): number => (now += 5);
    const { latency } = await readinessWith([member('textbook-hip')], {
      timed: { elapsedMs, machine: 'a machine' },
    });
    expect(latency).toMatchObject({ calls: 3, longest: 5, machine: 'a machine' });
    expect(latency?.p50).toBeCloseTo(5, 0);
  });
});

describe('the readiness of an installation', () => {
  const local = mapOf(ORDERS, 'http://snomed.info/sct', line('THA', '52734007'));

  /** The textbook order under a local code. */
  const localOrder = JSON.parse(
    JSON.stringify(testPatient('textbook-hip').bundle).replaceAll(
      /"coding":\[\{"system":"http:\/\/snomed.info\/sct","code":"(?:52734007|179344006|179406006)"[^}]*\}\]/g,
      `"coding":[{"system":"${ORDERS}","code":"THA"}]`,
    ),
  ) as JsonObject;

  it('does not see an order under a local code, names the code, and sees it with a map', async () => {
    expect(JSON.stringify(localOrder)).toContain('"THA"');
    const blind = await readinessWith([call('textbook-hip', 'order-sign', localOrder)]);
    expect(entry(blind, 'order-sign').recognised).toMatchObject({ yes: 0, no: 1 });
    expect(blind.unmapped.local).toMatchObject([
      { resourceType: 'ServiceRequest', element: 'code', system: ORDERS, code: 'THA', count: 1 },
    ]);
    const site = siteOf(filesWith(local));
    const seeing = await readinessWith([bundleMember(localOrder, settingWith(site))], {
      setting: settingWith(site),
    });
    expect(entry(seeing, 'order-sign').recognised.yes).toBe(1);
    expect(entry(seeing, 'order-sign').mapped).toBe(1);
    expect(seeing.unmapped.local).toEqual([]);
  });

  it('asks for a signature of the whole installation, and says what speaks with it', async () => {
    const setting = settingWith(northCampus);
    const { contentHash, governance } = await readinessWith([], { setting });
    expect(contentHash).toBe(northCampus.hash);
    expect(governance.now.signature).not.toBe('installation');
    expect(governance.now.services.map(({ state }) => state)).not.toContain('speak');
    const states = Object.fromEntries(
      governance.signed.services.map(({ service, state }) => [service, state]),
    );
    expect(states).toEqual(Object.fromEntries(northCampus.services));
    expect((await readinessWith([])).contentHash).toBe(rulebook.hash);
  });

  it('counts what a silent service would show, what a silent rule keeps back, and nothing where it is off', async () => {
    const steep = testPatient('steep-cup-large-head');
    const rule = steep.expected.cards['order-sign']?.[0]?.rule ?? '';
    const withState = async (change: Partial<Site>): Promise<Readiness> => {
      const site: Site = { ...siteOf(filesWith(local)), ...change };
      const setting = settingWith(site);
      const inputs = bundleMember(steep.bundle, setting);
      return await readinessWith([inputs], { setting });
    };
    const silent = await withState({ services: new Map([['hip-stability-order', 'silent']]) });
    expect(entry(silent, 'order-sign').callsByCards).toEqual([0, 1]);
    expect(
      silent.governance.signed.services.find(({ service }) => service === 'hip-stability-order')?.state,
    ).toBe('silent');
    const settings = {
      state: 'silent',
      why: 'tried first',
      by: 'lead',
      date: '2026-11-01',
      until: '2027-05-01',
    };
    const rules = new Map([[rule, settings]]) as unknown as Site['rules'];
    const hushed = await withState({ rules });
    expect(entry(hushed, 'order-sign').callsByCards).toEqual([1]);
    expect(entry(hushed, 'order-sign').kept).toContainEqual({ why: 'silent', cards: 1, calls: 1 });
    expect(figures(hushed, rule).state).toBe('silent');
    const off = await withState({ services: new Map([['hip-stability-order', 'off']]) });
    expect(entry(off, 'order-sign').recognised).toMatchObject({ off: 1, yes: 0 });
  });
});

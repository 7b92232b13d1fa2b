import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import type { Card } from '../../src/render/card-types.js';
import { conditionLimits, conditionsOf } from '../../src/rulebook/condition-facts.js';
import type { Site } from '../../src/rulebook/site.js';
import { filesWith, siteOf } from '../facts/sites.js';
import { fiveLines } from '../render/cards.js';
import { answerTo, inputFor, NOW, rulebook, testPatients } from './patients.js';
import type { Answer } from './patients.js';
import { measureObservation, planBundle } from './plan.js';

// Truth throughout, where nothing else is named: integration decisions section 4.

const DECIDED = { why: 'a reason', by: 'the hip team', date: '2026-11-02', until: '2027-05-01' };
const LIMIT = 'cup-inclination-upper-limit';
const STEEP = 'cup-inclination-above-classical';

function site(members: JsonObject): Site {
  const [file] = filesWith();
  if (!file) throw new Error('expected a site file');
  return siteOf([{ ...file, content: { ...(file.content as JsonObject), ...members } }]);
}

const limited = (value: number, more: JsonObject = {}): Site =>
  site({ parameters: { [LIMIT]: { ...DECIDED, value, unit: 'deg', ...more } } });
const ruled = (settings: JsonObject, id = STEEP): Site =>
  site({ rules: { [id]: { ...DECIDED, ...settings } } });

interface Asking {
  readonly hook?: string;
  readonly now?: string;
  readonly site?: Site;
}

async function ask(
  bundle: JsonObject,
  { hook = 'order-sign', now = NOW, site: of }: Asking = {},
): Promise<Answer> {
  const input = inputFor(bundle, hook, now);
  if (!input) throw new Error(`nothing for ${hook}`);
  return await answerTo({ ...input, ...(of && { site: of }) });
}

const cupAt = (inclination: number): JsonObject =>
  planBundle([
    measureObservation('cup-inclination', inclination, 'deg'),
    measureObservation('cup-anteversion', 15, 'deg'),
    measureObservation('head-diameter', 36, 'mm'),
    measureObservation('neck-diameter', 12, 'mm'),
  ]);

const rulesOf = (cards: readonly Card[]): readonly string[] => cards.map(({ source }) => source.topic.code);

function outcomes({ hips }: Answer): Readonly<Record<string, unknown>> {
  return Object.fromEntries(
    hips.flatMap(({ hip, construct, advisories }) =>
      advisories.map(({ rule, outcome }) => [`${hip} ${construct} ${rule}`, outcome] as const),
    ),
  );
}

function cardOf(answer: Answer, rule: string): Card {
  const card = answer.cards.find(({ source }) => source.topic.code === rule);
  if (!card) throw new Error(`expected a card of ${rule}, found ${rulesOf(answer.cards).join(', ')}`);
  return card;
}

const extension = (card: Card): Readonly<Record<string, unknown>> =>
  card.extension['example.kotyle.advisory'];

describe('a limit of the site', () => {
  const depending = new Set(
    rulebook.rules
      .filter((rule) => conditionsOf(rule).flatMap(conditionLimits).includes(LIMIT))
      .map(({ id }) => id),
  );

  it('changes an outcome exactly between it and the rulebook’s, and no other outcome at all', async () => {
    // Closed form: above 50 the rulebook speaks, above the local value the site does.
    expect([...depending]).toEqual([STEEP]);
    await fc.assert(
      fc.asyncProperty(
        fc.double({ min: 40, max: 60, noNaN: true }),
        fc.double({ min: 45, max: 55, noNaN: true }),
        async (inclination, local) => {
          const shipped = outcomes(await ask(cupAt(inclination)));
          const here = outcomes(await ask(cupAt(inclination), { site: limited(local) }));
          const changed = Object.keys(shipped).filter((name) => shipped[name] !== here[name]);
          const isBetween = inclination > Math.min(local, 50) && inclination <= Math.max(local, 50);
          expect(Object.keys(here)).toEqual(Object.keys(shipped));
          expect(changed).toEqual(isBetween ? [`left planned ${STEEP}`] : []);
        },
      ),
      {
        numRuns: 60,
        examples: [
          [50, 48],
          [48, 48],
          [49, 48],
          [50, 55],
          [55, 55],
        ],
      },
    );
  });

  it('stands on the card beside that of the rulebook, in words and for programs', async () => {
    const card = cardOf(await ask(cupAt(49), { site: limited(48) }), STEEP);
    expect(card.summary).toContain('above 48° (here; 50° in the rulebook)');
    expect(card.detail).toContain(
      'Of this site: upper limit of cup inclination 48° here, 50° in the rulebook.',
    );
    // The five lines stay the first five.
    expect(fiveLines(card).join('\n')).not.toContain('Of this site');
    expect(extension(card)['parameters']).toContainEqual({
      id: LIMIT,
      value: 48,
      unit: 'deg',
      local: true,
      rulebook: 50,
    });
    expect(extension(card)['parameters']).toContainEqual(
      expect.objectContaining({ id: 'cup-inclination-published-high', value: 58, local: false }),
    );
  });

  it('leaves what was published as it was published', async () => {
    const card = cardOf(await ask(cupAt(49), { site: limited(48) }), STEEP);
    expect(card.detail).toContain('classical range up to 50°, another up to 58°');
  });

  it('is named in the evaluation and handed to the record, with the rulebook’s own hash', async () => {
    const answer = await ask(cupAt(40), { site: limited(48) });
    const told = [{ id: LIMIT, value: 48, unit: 'deg', rulebook: 50 }];
    expect(answer.evaluation?.()).toMatchObject({ parameters: told, rulebook: { hash: rulebook.hash } });
    expect(answer.parameters).toEqual(told);
    const bare = await ask(cupAt(40));
    expect(bare.evaluation?.()).not.toHaveProperty('parameters');
    expect(bare).not.toHaveProperty('parameters');
  });

  it('gives way to the rulebook’s after its last day, and the card says so', async () => {
    const at = (inclination: number, now: string): Promise<Answer> =>
      ask(cupAt(inclination), { now, site: limited(55) });
    expect(rulesOf((await at(52, '2027-05-01T23:59:59.999Z')).cards)).not.toContain(STEEP);
    const after = await at(52, '2027-05-02T00:00:00.000Z');
    expect(cardOf(after, STEEP).detail).toContain(
      'Of this site: its upper limit of cup inclination of 55° ended on 1 May 2027; the 50° of the rulebook counts.',
    );
    expect(extension(cardOf(after, STEEP))['parameters']).toContainEqual(
      expect.objectContaining({ id: LIMIT, value: 50, local: false }),
    );
    expect(after).not.toHaveProperty('parameters');
  });

  it('is told in every rule that rests on it, whichever of those a site may set', async () => {
    const settable = [...rulebook.parameters.values()].flatMap(({ id, unit, allowed }) =>
      allowed ? [{ id, unit, allowed }] : [],
    );
    const of = site({
      parameters: Object.fromEntries(
        settable.map(({ id, unit, allowed }) => [id, { ...DECIDED, unit, value: allowed.low }]),
      ),
    });
    const seen = new Set<string>();
    for (const { bundle } of testPatients()) {
      const input = inputFor(bundle, 'order-sign') ?? inputFor(bundle, 'patient-view');
      if (!input) continue;
      for (const card of (await answerTo({ ...input, site: of })).cards) {
        const used = (extension(card)['parameters'] ?? []) as readonly {
          readonly id: string;
          readonly local: boolean;
        }[];
        for (const { id, local } of used.filter((one) => one.local)) {
          const says = settable.find((one) => one.id === id)?.allowed.says ?? '?';
          expect(local && card.detail.includes(`${says} `), `${card.source.topic.code}: ${id}`).toBe(true);
          seen.add(id);
        }
      }
    }
    expect(seen.size).toBeGreaterThan(2);
  });
});

describe('a rule that is off', () => {
  it('has no outcome, and every other rule has its own', async () => {
    const shipped = outcomes(await ask(cupAt(52)));
    const here = await ask(cupAt(52), { site: ruled({ state: 'off' }) });
    expect(shipped[`left planned ${STEEP}`]).toBe('fires');
    expect(outcomes(here)).toEqual(
      Object.fromEntries(Object.entries(shipped).filter(([name]) => !name.endsWith(` ${STEEP}`))),
    );
    expect(here.cards).toEqual([]);
    expect(here.evaluation?.()).toMatchObject({ states: { off: [STEEP] } });
  });

  it('is evaluated again after its last day, and its card says that the setting has ended', async () => {
    const card = cardOf(
      await ask(cupAt(52), { now: '2027-05-02T08:00:00.000Z', site: ruled({ state: 'off' }) }),
      STEEP,
    );
    expect(card.detail).toContain('Of this site: its setting for this advisory ended on 1 May 2027.');
  });
});

describe('a rule that is silent', () => {
  it('has its outcome and no card, and what it would have said is kept', async () => {
    const here = await ask(cupAt(52), { site: ruled({ state: 'silent' }) });
    expect(outcomes(here)).toEqual(outcomes(await ask(cupAt(52))));
    expect(here.cards).toEqual([]);
    expect(here.kept.map(({ card, why }) => [card.rule, why])).toEqual([[STEEP, 'silent']]);
    expect(here.evaluation?.()).toMatchObject({ states: { silent: [STEEP] } });
  });

  it('takes no word from another rule that would yield to it', async () => {
    // A rule leaves the word to another only where that one speaks.
    const yielding = rulebook.rules.flatMap(({ id, yieldsTo = [] }) =>
      yieldsTo.map((to) => [id, to] as const),
    );
    let looked = 0;
    for (const { bundle } of testPatients()) {
      const input = inputFor(bundle, 'order-sign');
      if (!input) continue;
      const loud = await answerTo(input);
      for (const { card, why } of loud.kept.filter((one) => one.why === 'said-by-another')) {
        const speakers = yielding.filter(([id]) => id === card.rule).map(([, to]) => to);
        const rules = Object.fromEntries(speakers.map((id) => [id, { ...DECIDED, state: 'silent' }]));
        const quiet = await answerTo({ ...input, site: site({ rules }) });
        const told = [
          ...rulesOf(quiet.cards),
          ...quiet.kept.filter((one) => one.why === 'ceiling').map((one) => one.card.rule),
        ];
        expect(told, `${card.rule} ${why}`).toContain(card.rule);
        for (const speaker of speakers) expect(JSON.stringify(quiet.cards)).not.toContain(`"${speaker}"`);
        looked += 1;
      }
    }
    expect(looked).toBeGreaterThan(0);
  });

  it('speaks at the hooks a site left it', async () => {
    const of = ruled({ hooks: ['order-sign'] });
    expect(rulesOf((await ask(cupAt(52), { site: of })).cards)).toContain(STEEP);
    expect(rulesOf((await ask(cupAt(52), { site: of, hook: 'order-select' })).cards)).not.toContain(STEEP);
  });
});

describe('a silent service', () => {
  const quiet = site({ services: { 'hip-stability-order': 'silent' } });

  it('has the outcomes of one that speaks, its cards put aside, and shows none', async () => {
    const loud = await ask(cupAt(64), { site: site({}) });
    const here = await ask(cupAt(64), { site: quiet });
    expect(loud.cards.length).toBeGreaterThan(0);
    expect(outcomes(here)).toEqual(outcomes(loud));
    expect([here.cards, here.silent]).toEqual([[], 'service']);
    expect(rulesOf(here.withheld ?? [])).toEqual(rulesOf(loud.cards));
    expect(here.evaluation?.()).toMatchObject({ states: { service: { state: 'silent', why: 'service' } } });
  });

  it('is silent by order-select under an id of its own too', async () => {
    const input = inputFor(cupAt(64), 'order-select');
    if (!input) throw new Error('nothing selected');
    const apart = { ...input.service, id: 'hip-stability-order-select' };
    expect((await answerTo({ ...input, service: apart, site: quiet })).cards).toEqual([]);
  });
});

describe('a service that is off', () => {
  it('evaluates nothing, whoever asks', async () => {
    const here = await ask(cupAt(64), { site: site({ services: { 'hip-stability-order': 'off' } }) });
    expect(here).toMatchObject({ off: true, cards: [], hips: [] });
    expect(here).not.toHaveProperty('evaluation');
  });
});

describe('a note and an earlier review of the site', () => {
  it('stand on the cards of that rule until their last day', async () => {
    const of = ruled({ note: 'the team plans no cup above 48', reviewBy: '2026-11-23' });
    const card = cardOf(await ask(cupAt(52), { site: of }), STEEP);
    expect(card.detail).toContain('Of this site: note: the team plans no cup above 48.');
    expect(card.detail).toContain('review overdue');
    const bare = cardOf(await ask(cupAt(52)), STEEP);
    expect(bare.detail).not.toMatch(/review overdue|Of this site/);
    const after = cardOf(await ask(cupAt(52), { site: of, now: '2027-05-02T08:00:00.000Z' }), STEEP);
    expect(after.detail).not.toMatch(/review overdue|plans no cup/);
  });
});

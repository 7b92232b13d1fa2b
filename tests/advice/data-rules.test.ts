import { describe, expect, it } from 'vitest';
import { cardFor, fiveLines } from '../render/cards.js';
import { recordNamed } from '../rulebook/evidence.js';
import { advisoryOf } from './hand-made.js';
import { answerFor, rulebook, testPatient, testPatients } from './patients.js';

/** Cards about the record itself: what they name, what they ask for, and where they keep still. */

const RECORD_RULES = [
  'cup-version-sign-not-shown',
  'fusion-site-unclear',
  'irradiation-site-unclear',
  'measure-stale',
  'native-code-on-prosthesis',
  'replacement-kind-unclear',
] as const;

describe('a card about the record', () => {
  it('asks for checks and never offers "no change"', () => {
    // Truth: clinician, clinical decisions §2: cards about data carry checks.
    for (const id of RECORD_RULES) {
      const rule = rulebook.rules.find((one) => one.id === id);
      expect(rule?.intent, id).toBe('check');
      for (const { checks, options } of rule?.findings ?? []) {
        expect(checks?.length, id).toBeGreaterThan(0);
        expect(options, id).toBeUndefined();
      }
    }
  });

  it('keeps still at booking, for a textbook hip and for a patient of whom nothing is known', async () => {
    // Truth: clinician, clinical decisions §1.
    for (const { entries } of rulebook.rules.filter(({ id }) => RECORD_RULES.some((one) => one === id)))
      expect(entries).not.toContain('appointment-book');
    for (const name of ['textbook-hip', 'textbook-hip-fully-measured', 'nothing-known'])
      for (const hook of ['order-sign', 'patient-view'])
        expect((await answerFor(testPatient(name).bundle, hook)).cards, `${name} at ${hook}`).toEqual([]);
  });

  it('takes a fused ankle or an irradiation of no stated place for the page only', async () => {
    // Truth: clinician, clinical decisions §8 and §10.
    for (const [name, rule] of [
      ['ankle-fusion', 'fusion-site-unclear'],
      ['irradiated-somewhere', 'irradiation-site-unclear'],
    ] as const) {
      const answer = await answerFor(testPatient(name).bundle, 'order-sign');
      expect(answer.cards, name).toEqual([]);
      expect(
        answer.pageOnly?.().cards.map((card) => card.rule),
        name,
      ).toContain(rule);
    }
  });
});

describe('values measured long ago', () => {
  it('are named with their dates and what happened since, beside the card that rests on them', async () => {
    const { cards } = await answerFor(testPatient('films-before-fusion').bundle, 'order-sign');
    const [found, checks, sure] = fiveLines(cardFor(cards, 'measure-stale'));
    expect(found).toContain(
      '15 Jan 2026, before lumbar fusion: pelvic tilt (APP) standing -2 deg and 3 more',
    );
    expect(checks).toContain('measured again if it matters');
    // The evidence audit: a card built on this limit must use the words "common practice".
    expect(sure).toMatch(/12 mo.*common practice/);
    expect(cardFor(cards, 'spine-phenotype').summary).toContain('out of date');
  });

  it('ask for nothing in any other test patient', async () => {
    for (const { name, bundle, expected } of testPatients().filter(
      (one) => one.name !== 'films-before-fusion',
    ))
      for (const hook of ['order-sign', 'patient-view'].filter((one) => expected.cards[one]))
        for (const { advisories } of (await answerFor(bundle, hook)).hips)
          expect(
            advisories.filter(({ rule, outcome }) => rule === 'measure-stale' && outcome === 'fires'),
            name,
          ).toEqual([]);
  });
});

describe('what is coded of a replaced hip', () => {
  it('names the hip: the right one dislocated after its replacement, the left one before', async () => {
    const answer = await answerFor(testPatient('native-code-after-replacement').bundle, 'patient-view');
    const card = cardFor(answer.cards, 'native-code-on-prosthesis');
    expect(card.summary).toMatch(/^Right hip, in place: /);
    expect(fiveLines(card)[0]).toContain('30 Aug 2026');
    expect(
      answer.hips.flatMap(({ facts }) => facts.get('prosthesis-dislocation')?.state.status),
    ).not.toContain('present');
  });

  it('asks which of the two it is where a cup is measured in a partial replacement', async () => {
    const { cards } = await answerFor(testPatient('partial-with-cup-measured').bundle, 'patient-view');
    const card = cardFor(cards, 'replacement-kind-unclear');
    expect(card.summary).toMatch(/^Left hip, in place: /);
    expect(fiveLines(card)[0]).toContain('44/18');
  });
});

describe('anteversion read on a film', () => {
  it('stands with what films read below CT, as published', async () => {
    // Truth: published, cup-version-by-projection-2016: means of the same 150 hips, their differences by hand.
    const { ct, crossTableLateral, apHip, apPelvis } = recordNamed('cup-version-by-projection-2016')[
      'value'
    ] as Record<'ct' | 'crossTableLateral' | 'apHip' | 'apPelvis', number>;
    const below = [apPelvis, apHip, crossTableLateral].map((mean) => (mean - ct).toFixed(1));
    expect(below).toEqual(['-11.3', '-6.6', '-2.1']);
    const { cards } = await answerFor(testPatient('kept-cup-on-a-film').bundle, 'order-sign');
    const card = cardFor(cards, 'cup-version-sign-not-shown');
    expect(card.detail).toContain(
      `pelvis film ${below[0] ?? ''}°, hip film ${below[1] ?? ''}°, cross-table ${below[2] ?? ''}°; no interval printed`,
    );
    expect(fiveLines(card)[1]).toMatch(/infection markers first.*cross-table lateral or CT/);
  });

  it('of a hip that came out leaves the word to its work-up, and stands in the evaluation', async () => {
    const answer = await answerFor(testPatient('dislocated-58-28').bundle, 'patient-view');
    expect(advisoryOf(answer, 'cup-version-sign-not-shown', 'in-place').outcome).toBe('fires');
    expect(answer.cards.map(({ source }) => source.topic.code)).not.toContain('cup-version-sign-not-shown');
    expect(answer.kept.map(({ card, why }) => `${card.rule} ${why}`)).toContain(
      'cup-version-sign-not-shown said-by-another',
    );
  });
});

describe('a quantity whose unit cannot be used', () => {
  it('is told with the unit expected and what was found', async () => {
    const { cards } = await answerFor(testPatient('unreadable-plan').bundle, 'order-sign');
    // An angle in millimetres is impossible; a number without a unit is none.
    expect(fiveLines(cardFor(cards, 'measure-implausible-or-conflicting'))[0]).toMatch(
      /expected a unit that converts to deg, found mm/,
    );
    expect(fiveLines(cardFor(cards, 'record-unreadable'))[0]).toMatch(
      /expected a UCUM unit that converts to deg, found nothing/,
    );
  });
});

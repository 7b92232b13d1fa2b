import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import type { Changes } from '../../src/workbench/trial/edge-schema.js';
import { changedBundle } from '../../src/workbench/trial/edge-bundle.js';
import { cardFor, fiveLines } from '../render/cards.js';
import { advisoryOf } from './hand-made.js';
import { answerFor, mapEntries, measureCode, rulebook, testPatient } from './patients.js';
import type { Answer } from './patients.js';

const WORK_UP = 'unstable-hip-work-up';
const BY_CAUSE = 'revision-strategy-by-cause';

/** A hip that came out twice, of which everything the work-up looks for is known and nothing is found. */
const WORKED_UP = testPatient('worked-up-no-cause');

function changed(...changes: readonly Changes[]): JsonObject {
  return changedBundle(WORKED_UP.bundle, changes, WORKED_UP.expected.now, rulebook);
}

/** Words of the five lines of a card. */
function wordsOf(lines: readonly string[]): number {
  return lines
    .join(' ')
    .split(/\s+/)
    .filter((word) => /[\p{L}\p{N}]/u.test(word)).length;
}

function chart(bundle: JsonObject): Promise<Answer> {
  return answerFor(bundle, 'patient-view');
}

interface CausesFound {
  readonly named: readonly string[];
  readonly open: readonly string[];
}

function causesIn(answer: Answer): CausesFound {
  const causes = advisoryOf(answer, WORK_UP, 'in-place').fired?.causes ?? [];
  const of = (truth: string): readonly string[] =>
    causes.filter((cause) => cause.truth === truth).map(({ says }) => says);
  return { named: of('true'), open: of('unknown') };
}

/** Every cause of the work-up, in the order in which they are looked for, each with a finding that is that cause alone. */
const ALONE: readonly (readonly [string, Changes])[] = [
  ['infection', { conditions: ['icd|T84.51XA'] }],
  ['loosening/migration', { set: { 'component-migration': 'stem-subsidence' } }],
  ['fracture/breakage', { conditions: ['icd|M97.01XA'] }],
  [
    'dissociation',
    {
      set: {
        'liner-type': 'dual-mobility',
        'mobile-liner-diameter': 46,
        'head-eccentric-after-reduction': true,
      },
    },
  ],
  ['cup position', { set: { 'cup-inclination': 62 } }],
  ['stem version', { set: { 'stem-anteversion': 0 } }],
  ['wear', { set: { 'wear-pattern': 'eccentric' } }],
  ['impingement', { set: { 'cup-anteversion': 12, 'stem-anteversion': 6 } }],
  ['abductors', { set: { 'abductor-strength': 2 } }],
  ['tension', { set: { 'global-offset-difference': -8 } }],
  ['spine/pelvis', { set: { 'lumbar-lordosis-flexed-seated': 40 } }],
  ['nerve/mind', { conditions: ['icd|G20.A1'] }],
];

/** A hip with every cause at once but infection and dissociation, which has a card of its own. */
const MANY: Changes = {
  conditions: ['icd|T84.030A', 'icd|M97.01XA', 'icd|G20.A1'],
  set: {
    'component-migration': 'cup',
    'cup-inclination': 62,
    'cup-anteversion': 32,
    'dislocation-direction': 'anterior',
    'stem-anteversion': 34,
    'abductor-strength': 3,
    'wear-pattern': 'eccentric',
    'heterotopic-ossification': true,
    'global-offset-difference': -7,
    'app-tilt-standing': -16,
  },
};

describe('the causes of a hip that came out', () => {
  it('are looked for in one order: infection, then what moved or broke, then mechanics', () => {
    // Truth: clinician, clinical decisions §6: infection markers before mechanics; migration, fracture, loosening before "malposition".
    const rule = rulebook.rules.find(({ id }) => id === WORK_UP);
    expect(rule?.causes?.map(({ says }) => says)).toEqual(ALONE.map(([says]) => says));
  });

  it.each(ALONE)('%s: named where it is found, and nothing beside it', async (says, changes) => {
    const found = causesIn(await chart(changed(changes)));
    expect(found).toEqual({ named: [says], open: [] });
  });

  it('are named together where there are two, the graver first', async () => {
    const bundle = changed({
      set: { 'wear-pattern': 'eccentric', 'component-migration': 'cup' },
    });
    const answer = await chart(bundle);
    expect(causesIn(answer)).toEqual({ named: ['loosening/migration', 'wear'], open: [] });
    expect(fiveLines(cardFor(answer.cards, WORK_UP))[0]).toMatch(
      /causes named: loosening\/migration, wear, none open/,
    );
  });

  it('are called unresolved where all were looked for and none is found', async () => {
    // Truth: published, wera-classification-modified: class VI, unknown.
    const answer = await chart(WORKED_UP.bundle);
    expect(causesIn(answer)).toEqual({ named: [], open: [] });
    const card = cardFor(answer.cards, WORK_UP);
    expect(card.summary).toMatch(/: came out; no cause found among those looked for$/);
    expect(fiveLines(card)[0]).toMatch(/no cause found among those looked for: unresolved/);
    expect(fiveLines(card)[3]).toBe('Not known nothing this advisory uses.');
  });

  it('stay open where nothing is known, but for diagnoses, of which none on record counts as none', async () => {
    const { named, open } = causesIn(await chart(changed({ without: ['Observation'] })));
    expect(named).toEqual([]);
    expect(open).toEqual(
      ALONE.map(([says]) => says).filter((says) => !['fracture/breakage', 'nerve/mind'].includes(says)),
    );
  });
});

/** The facts that the card names as not known, at most three of them. */
function namedAsMissing(answer: Answer): readonly string[] {
  const advisory = advisoryOf(answer, WORK_UP, 'in-place');
  const line = (fiveLines(cardFor(answer.cards, WORK_UP))[3] ?? '')
    .replace(/^Not known /, '')
    .replace(/\.$/, '');
  const says = (line.split('; ')[0] ?? '').split(', ');
  return (advisory.fired?.finding.notKnown ?? [])
    .filter((item) => says.includes(item.says))
    .map(({ fact }) => fact);
}

const LABORATORY: Readonly<Record<string, string>> = { '1988-5': 'crp', '4537-7': 'esr' };

/** Which fact an Observation of the worked-up patient states. */
function factOf(resource: JsonObject): string | undefined {
  const code = resource['code'] as { readonly coding: readonly { readonly code: string }[] } | undefined;
  return measureCode(resource) ?? LABORATORY[code?.coding[0]?.code ?? ''];
}

/** All that could be measured: the worked-up patient's own, and the pelvis seated as another angle would tell it. */
const MEASURED = changed({ set: { 'app-tilt-relaxed-seated': -20 } });

describe('the missing data that the work-up names', () => {
  it('would settle it: added three at a time, just those named, they leave no cause open', async () => {
    // Truth: closed form; a card that asks for what settles nothing sends a patient to films for nothing.
    const known = new Set<string>();
    for (let round = 0; round < 12; round += 1) {
      const answer = await chart(onlyWith(known));
      const { named, open } = causesIn(answer);
      expect(named).toEqual([]);
      if (open.length === 0) break;
      const missing = namedAsMissing(answer);
      expect(missing.length).toBeGreaterThan(0);
      expect(missing.length).toBeLessThanOrEqual(3);
      expect(missing.filter((fact) => known.has(fact))).toEqual([]);
      for (const fact of missing) known.add(fact);
    }
    expect(causesIn(await chart(onlyWith(known)))).toEqual({ named: [], open: [] });
  });

  it('begins with what settles most causes', async () => {
    const answer = await chart(changed({ without: ['Observation'] }));
    const causes = advisoryOf(answer, WORK_UP, 'in-place').fired?.causes ?? [];
    const settles = (fact: string): number => causes.filter(({ needs }) => needs.includes(fact)).length;
    const counts = namedAsMissing(answer).map(settles);
    const most = Math.max(...causes.flatMap(({ needs }) => needs.map(settles)));
    expect(Math.max(...counts)).toBe(most);
  });

  it('of a test patient in whom a film shows the cup are the sign, CT of the stem and the markers', async () => {
    const answer = await chart(testPatient('dislocated-58-28').bundle);
    expect(causesIn(answer).open).toContain('cup position');
    expect(fiveLines(cardFor(answer.cards, WORK_UP))[3]).toMatch(/sign of anteversion not confirmed/);
  });
});

function onlyWith(facts: ReadonlySet<string>): JsonObject {
  return mapEntries(MEASURED, (resource) =>
    resource['resourceType'] !== 'Observation' || facts.has(factOf(resource) ?? '') ? resource : undefined,
  );
}

describe('the card of the work-up', () => {
  it('keeps to 90 words with as many causes as there are, named or open', async () => {
    // Truth: clinical decisions §3: five lines, at most 90 words.
    const infected: Changes = { ...MANY, conditions: [...(MANY.conditions ?? []), 'icd|T84.51XA'] };
    for (const bundle of [changed(MANY), changed(infected), changed({ without: ['Observation'] })]) {
      const card = cardFor((await chart(bundle)).cards, WORK_UP);
      expect(wordsOf(fiveLines(card)), fiveLines(card).join('\n')).toBeLessThanOrEqual(90);
    }
  });

  it('offers checks only, infection markers first, and never an orientation', async () => {
    // Truth: clinician, clinical decisions §2 and §6.
    for (const [, changes] of ALONE) {
      const answer = await chart(changed(changes));
      const finding = advisoryOf(answer, WORK_UP, 'in-place').fired?.finding;
      expect(finding?.options).toBeUndefined();
      const told = answer.cards.filter(({ source }) => source.topic.code === WORK_UP);
      for (const card of told) {
        const checks = (fiveLines(card)[1] ?? '').replace(/^To check /, '');
        expect(checks).toMatch(/^(?:film after the reduction first[^·]*· )?infection markers/);
        expect(checks).not.toMatch(/no change|version|inclination|orientation|revision/);
      }
    }
  });

  it('gives figures as their sources print them', async () => {
    // Truth: published, pji-hidden-in-aseptic-failure 27 of 323; vonknoch2001-late-causes 30 cups, 18 worn, 11 nerves of 165.
    const { detail } = cardFor((await chart(WORKED_UP.bundle)).cards, WORK_UP);
    expect(detail).toContain('27 of 323 revisions thought aseptic had overt infection or a positive culture');
    expect(detail).toContain('cup malpositioned in 30, wear beyond 2 mm in 18, new nerve impairment in 11');
    expect(detail).toContain(
      'impingement 36.7 %, cup malposition 27.7 %, late wear 19.4 %, no interval printed',
    );
  });
});

/** The options of the card told by cause, at the signing of an order. */
async function signed(
  patient: string,
  changes: Changes,
): Promise<{ answer: Answer; options: readonly string[] }> {
  const { bundle, expected } = testPatient(patient);
  const answer = await answerFor(changedBundle(bundle, [changes], expected.now, rulebook), 'order-sign');
  const line = fiveLines(cardFor(answer.cards, BY_CAUSE))[1] ?? '';
  return {
    answer,
    options: line
      .replace(/^Options /, '')
      .replace(/\.$/, '')
      .split(' · '),
  };
}

/** A cup measured at these angles that the plan leaves where it is. */
function keptCup(inclination: number, more: Changes['set'] = {}): Changes {
  const ct = { method: 'ct', 'angle-definition': 'radiographic' };
  return {
    set: {
      'component-retained': 'cup',
      'cup-inclination@planned': null,
      'cup-anteversion@planned': null,
      'cup-inclination@postoperative+': { value: inclination, with: ct },
      'cup-anteversion@postoperative+': { value: 20, with: ct },
      ...more,
    },
  };
}

describe('a revision by the causes named', () => {
  const WORN = 'revision-weak-abductors-worn';

  it('has one option for each cause, infection first and a constrained liner last with its figures', async () => {
    // Truth: clinician, clinical decisions §6: infection markers before mechanics; a constrained liner with its dislocation and failure figures.
    const { answer, options } = await signed(WORN, keptCup(62));
    expect(options).toEqual([
      'no change',
      'infection markers first (local protocol)',
      'subsidence, migration, fracture, loosening before malposition',
      'cup revision (posterior instability)',
      'liner exchange',
      'abductor repair: no effect estimate found',
      'dual mobility',
      'constrained liner last; prices below',
    ]);
    const { detail } = cardFor(answer.cards, BY_CAUSE);
    // Truth: published, constrained-liner-failure, constrained-after-failure, yapp2026-constrained, dual-mobility-vs-constrained.
    expect(detail).toContain('11.4 % (95 % CI 10.3–12.6) dislocated or failed');
    expect(detail).toContain('43 % free of dislocation at ten years');
    expect(detail).toContain('HR 2.7, adjusted, no interval printed');
    expect(detail).toContain('OR 1.47 (95 % CI 0.84–2.52) for aseptic re-revision');
  });

  it('gives the pooled share of revisions that dislocated as its events and hips make it', async () => {
    // Truth: closed form over published counts, guo2017-revision: 421 of 4656.
    const { answer } = await signed(WORN, {});
    const share = (100 * 421) / 4656;
    expect(share.toFixed(2)).toBe('9.04');
    expect(cardFor(answer.cards, BY_CAUSE).detail).toContain(`${share.toFixed(2)} % of revisions dislocated`);
  });

  it.each([null, 'unknown'])('turns no component where the direction is %s', async (direction) => {
    // Truth: clinician, clinical decisions §6: no orientation option without a known direction of dislocation.
    const { options } = await signed(WORN, keptCup(62, { 'dislocation-direction': direction }));
    expect(options.join(' ')).not.toMatch(/cup revision|stem revision/);
    expect(options).toContain('direction, and dislocations treated elsewhere, before any orientation');
  });

  it('leaves the other card on instability unsaid, so that one speaks', async () => {
    const { answer } = await signed(WORN, {});
    const about = answer.cards.map(({ source }) => source.topic.code);
    expect(about).toContain(BY_CAUSE);
    expect(about).not.toContain('earlier-dislocation-or-revision');
  });

  it('keeps to 90 words with as many causes as a plan carries', async () => {
    // Truth: clinical decisions §3.
    const many: Changes = {
      conditions: ['icd|T84.030A', 'icd|M97.01XA', 'icd|G20.A1', 'icd|T84.51XA'],
      set: {
        ...keptCup(62).set,
        'component-migration': 'cup',
        'heterotopic-ossification': true,
        'lumbar-lordosis-flexed-seated': 40,
      },
    };
    const { answer } = await signed(WORN, many);
    const lines = fiveLines(cardFor(answer.cards, BY_CAUSE));
    expect(lines[0]).toMatch(/causes named: infection, .*nerve\/mind, none open/);
    expect(wordsOf(lines), lines.join('\n')).toBeLessThanOrEqual(90);
  });

  it.each([WORN, 'revision-infection-suspected', 'retained-retroverted-stem'])(
    'names each study once: %s',
    async (patient) => {
      // Truth: clinical decisions §9: one study never counts twice.
      const { detail } = cardFor((await signed(patient, {})).answer.cards, BY_CAUSE);
      expect(detail).not.toMatch(/study named above/);
    },
  );
});

describe('a marker of infection', () => {
  // Truth: clinician, a proposal without a source (infection-marker-age): three months before 24 November 2026.
  it.each([
    ['2026-08-25', 'no cause found'],
    ['2026-08-20', 'causes open: infection'],
  ])('of %s: %s', async (date, says) => {
    const old = mapEntries(WORKED_UP.bundle, (resource) =>
      factOf(resource) === 'crp' ? { ...resource, effectiveDateTime: date } : resource,
    );
    expect(fiveLines(cardFor((await chart(old)).cards, WORK_UP))[0]).toContain(says);
  });

  it('raised last year neither names infection nor rules it out', async () => {
    const raised = mapEntries(WORKED_UP.bundle, (resource) =>
      factOf(resource) === 'crp'
        ? {
            ...resource,
            effectiveDateTime: '2025-11-20',
            valueQuantity: { ...(resource['valueQuantity'] as object), value: 80 },
          }
        : resource,
    );
    expect(causesIn(await chart(raised))).toEqual({ named: [], open: ['infection'] });
  });
});

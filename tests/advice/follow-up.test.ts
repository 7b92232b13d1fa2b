import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { without } from '../facts/records.js';
import { cardFor, fiveLines } from '../render/cards.js';
import { advisoryOf } from './hand-made.js';
import { answerFor, mapEntries, measureCode, testPatient } from './patients.js';
import type { Answer } from './patients.js';

const WEAR = 'eccentric-wear-in-place';
const OFF = 'cup-off-plan';

/** Clinical decisions §2: what may be offered for a hip in place without instability, failure, infection or a revision order. */
const IN_PLACE =
  /^(no change|measurement repeated or completed|follow-up by local protocol|discuss if symptoms appear|lysis, trochanter first \(CT, oblique views\): clean films cannot exclude it|lysis and trochanter measured, CT by local protocol)\.?$/;

function chart(bundle: JsonObject): Promise<Answer> {
  return answerFor(bundle, 'patient-view');
}

function optionsOf(answer: Answer, rule: string): readonly string[] {
  return (fiveLines(cardFor(answer.cards, rule))[1] ?? '').replace(/^Options /, '').split(' · ');
}

describe('a worn bearing in place', () => {
  it('is never given a component change, a jump distance or a warning', async () => {
    // Truth: clinician, clinical decisions §2 (options in place), §4: a worn liner has no jump distance in millimetres.
    for (const name of ['worn-liner-13-years-lysis', 'worn-liner-13-years-clean', 'worn-metal-bearing']) {
      const answer = await chart(testPatient(name).bundle);
      const card = cardFor(answer.cards, WEAR);
      for (const option of optionsOf(answer, WEAR)) expect(option, name).toMatch(IN_PLACE);
      expect(card.detail).not.toMatch(/jump distance \d/);
      expect(card.indicator).toBe('info');
      const shown = [...(advisoryOf(answer, WEAR, 'in-place').fired?.numbers.values() ?? [])];
      expect(shown.filter(({ computation = '' }) => /jump/.test(computation))).toEqual([]);
    }
  });

  it('with lysis names lysis and trochanter before the wear', async () => {
    // Truth: clinician, the reader's patient "wear at 13 years with lysis".
    const card = cardFor((await chart(testPatient('worn-liner-13-years-lysis').bundle)).cards, WEAR);
    expect(fiveLines(card)[0]).toMatch(
      /^Found lysis greater trochanter; wear eccentric; penetration 2\.6 mm/,
    );
  });

  it('without lysis says how often a film misses it', async () => {
    // Truth: published, osteolysis-film-sensitivity: 57.6 and 67 % sensitivity, 72 and 92.9 % specificity against CT.
    const card = cardFor((await chart(testPatient('worn-liner-13-years-clean').bundle)).cards, WEAR);
    expect(card.detail).toMatch(/clean films cannot exclude it/);
    expect(card.detail).toMatch(/sensitivity of 57\.6–67 % and a specificity of 72–92\.9 %/);
    // Truth: published, osteolysis-oblique-views: 64.4 % with oblique views added.
    expect(card.detail).toMatch(/with oblique views added 64\.4 %/);
    expect(card.detail).toMatch(/follow-up by local protocol/);
  });

  it('of metal on metal is not held against the limits of polyethylene', async () => {
    const card = cardFor((await chart(testPatient('worn-metal-bearing').bundle)).cards, WEAR);
    expect(fiveLines(card)[0]).not.toMatch(/above/);
  });

  // Truth: published, head-penetration-total-high 2 mm, wear-rate-high 0.1 mm a year: above them, not at them.
  it.each([
    ['head-penetration', 2.1],
    ['head-penetration-rate', 0.11],
  ])('is one when %s is %s, the rest at its limit', async (measure, value) => {
    const bundle = mapEntries(testPatient('worn-liner-at-the-limits').bundle, (resource) =>
      measureCode(resource) === measure
        ? { ...resource, valueQuantity: { ...(resource['valueQuantity'] as object), value } }
        : resource,
    );
    expect(advisoryOf(await chart(bundle), WEAR, 'in-place').outcome).toBe('fires');
  });

  it('at its limits is none, and one nobody measured cannot be told', async () => {
    const outcome = async (name: string): Promise<string> =>
      advisoryOf(await chart(testPatient(name).bundle), WEAR, 'in-place').outcome;
    expect(await outcome('worn-liner-at-the-limits')).toBe('does-not-fire');
    expect(await outcome('worn-liner-unmeasured')).toBe('cannot-tell');
  });
});

describe('a cup measured against its plan', () => {
  const { bundle } = testPatient('cup-off-plan');
  const outcome = async (changed: JsonObject): Promise<string> =>
    advisoryOf(await chart(changed), OFF, 'in-place').outcome;
  const isPlan = ({ effectiveDateTime }: JsonObject): boolean => effectiveDateTime === '2026-09-01';
  const plans = (change: (resource: JsonObject) => JsonObject): JsonObject =>
    mapEntries(bundle, (resource) => (isPlan(resource) ? change(resource) : resource));
  const measuredAs = (more: JsonObject): JsonObject =>
    mapEntries(bundle, (resource) =>
      measureCode(resource)?.startsWith('cup-') === true && !isPlan(resource)
        ? { ...resource, ...more }
        : resource,
    );
  const procedures = (change: (resource: JsonObject) => JsonObject | undefined): JsonObject =>
    mapEntries(bundle, (resource) =>
      resource['resourceType'] === 'Procedure' ? change(resource) : resource,
    );

  it('shows both, how far they lie apart, stem, length and offset beside it, and no surgical option', async () => {
    // Truth: clinician, clinical decisions §7: measured against planned, with measuring error, one card, no surgical option.
    const answer = await chart(bundle);
    expect(answer.cards.map(({ source }) => source.topic.code)).toEqual([OFF]);
    const [found = ''] = fiveLines(cardFor(answer.cards, OFF));
    expect(found).toMatch(/measured 48\/30 radiographic, 20 Oct 2026; planned 35°\/18°, 1 Sep 2026/);
    expect(found).toMatch(/apart 13° and 12°, limit 10° plus error/);
    expect(found).toMatch(/stem 9°, planned 15°; length 6\.5 mm, planned 4 mm; offset -1 mm, planned 2 mm/);
    for (const option of optionsOf(answer, OFF)) expect(option).toMatch(IN_PLACE);
  });

  it('is told beyond 10 degrees and the film’s 2, not at them', async () => {
    // Truth: published, placement-deviation-from-plan 10; clinician, measuring band: AP film inclination 2, anteversion 5.
    const planned = (inclination: number, anteversion: number): JsonObject =>
      plans((resource) => {
        const value = measureCode(resource) === 'cup-inclination' ? inclination : anteversion;
        return measureCode(resource)?.startsWith('cup-') === true
          ? { ...resource, valueQuantity: { ...(resource['valueQuantity'] as object), value } }
          : resource;
      });
    expect(await outcome(planned(36, 18))).toBe('does-not-fire');
    expect(await outcome(planned(35.9, 18))).toBe('fires');
    expect(await outcome(planned(48, 15))).toBe('does-not-fire');
    expect(await outcome(planned(48, 14.9))).toBe('fires');
    expect(await outcome(planned(60.1, 30))).toBe('fires');
  });

  it('restates a plan in another definition before it compares', async () => {
    // Truth: published worked example, clinical decisions §4: 45/20 operative is 46.8/14.0 radiographic.
    const answer = await chart(
      plans((resource) => {
        const code = measureCode(resource);
        if (code?.startsWith('cup-') !== true) return resource;
        return {
          ...resource,
          valueQuantity: {
            ...(resource['valueQuantity'] as object),
            value: code === 'cup-inclination' ? 45 : 20,
          },
          component: [
            {
              code: {
                coding: [
                  { system: 'https://kotyle.example/fhir/CodeSystem/hip-measure', code: 'angle-definition' },
                ],
              },
              valueCodeableConcept: {
                coding: [
                  { system: 'https://kotyle.example/fhir/CodeSystem/hip-measure-value', code: 'operative' },
                ],
              },
            },
          ],
        };
      }),
    );
    const hip = answer.hips.find(({ construct }) => construct === 'in-place');
    const value = (id: string): unknown => {
      const state = hip?.facts.get(id)?.state;
      return state?.status === 'present' && state.value.kind === 'quantity'
        ? state.value.interval.low
        : state;
    };
    expect(value('planned-cup-inclination')).toBeCloseTo(46.8, 1);
    expect(value('planned-cup-anteversion')).toBeCloseTo(14.0, 1);
    expect(value('cup-anteversion-off-plan')).toBeCloseTo(30 - 14.0, 1);
  });

  it('cannot be told for another plane, an estimate, or a value from the theatre', async () => {
    // Truth: clinician, clinical decisions §3 (an estimate never fires) and the definitions that must match, §4.
    const names = ['cup-off-plan-other-plane', 'cup-off-plan-estimate'];
    for (const name of names) expect(await outcome(testPatient(name).bundle), name).toBe('cannot-tell');
    const theatre = measuredAs({
      category: [
        {
          coding: [
            { system: 'https://kotyle.example/fhir/CodeSystem/measure-stage', code: 'intraoperative' },
          ],
        },
        {
          coding: [{ system: 'https://kotyle.example/fhir/CodeSystem/measure-group', code: 'hip-stability' }],
        },
      ],
    });
    expect(await outcome(theatre)).toBe('cannot-tell');
  });

  it('is compared with the plan of its own operation only', async () => {
    // Truth: closed form; a plan belongs to the operation after it, a measurement to the one before it.
    const undated = procedures((resource) => without(resource, 'performedDateTime'));
    expect(await outcome(undated), 'operation without a date').toBe('cannot-tell');
    const later = plans((resource) => ({ ...resource, effectiveDateTime: '2026-11-02' }));
    expect(await outcome(later), 'plan made after the measurement').toBe('cannot-tell');
    const before = measuredAs({ effectiveDateTime: '2026-08-15' });
    expect(await outcome(before), 'measured before the operation').toBe('cannot-tell');
    const between = mapEntries(bundle, (resource) =>
      resource['resourceType'] === 'Condition' ? undefined : resource,
    );
    const twice = {
      ...between,
      entry: [
        ...(between['entry'] as readonly JsonObject[]),
        ...(between['entry'] as readonly { resource: JsonObject }[])
          .filter(({ resource }) => resource['resourceType'] === 'Procedure')
          .map(({ resource }) => ({
            fullUrl: 'https://record.example/fhir/Procedure/again',
            resource: { ...resource, id: 'again', performedDateTime: '2026-10-01' },
          })),
      ],
    };
    expect(await outcome(twice), 'another operation since').toBe('cannot-tell');
  });

  it('is compared with no plan of an order still open or revoked', async () => {
    const withOrder = (status: string): JsonObject => ({
      ...bundle,
      entry: [
        ...(bundle['entry'] as readonly JsonObject[]),
        {
          fullUrl: 'https://record.example/fhir/ServiceRequest/order-done',
          resource: {
            resourceType: 'ServiceRequest',
            id: 'order-done',
            status,
            intent: 'order',
            code: { coding: [{ system: 'http://snomed.info/sct', code: '52734007' }] },
            bodySite: [{ coding: [{ system: 'http://snomed.info/sct', code: '287679003' }] }],
            subject: { reference: 'Patient/cup-off-plan' },
            authoredOn: '2026-08-30',
          },
        },
      ],
    });
    expect(await outcome(withOrder('completed'))).toBe('fires');
    expect(await outcome(withOrder('revoked'))).toBe('cannot-tell');
    expect(await outcome(withOrder('active'))).toBe('cannot-tell');
  });
});

import { describe, expect, it } from 'vitest';
import type { PatientRecord } from '../../src/facts/patient-record.js';
import type { JsonObject } from '../../src/fhir/json.js';
import type { Sets } from './charts.js';
import { factOf, replacement, signing, valueOf } from './charts.js';
import { CODE, coded, measure, order, quantity, snomed, without } from './records.js';

// Truth throughout: clinical decisions §2, "Stage and construct"; §3 for the measuring band.

const REVISION = snomed('112727005');
const TIED = { basedOn: [{ reference: 'ServiceRequest/order' }] };

interface Angle {
  readonly id: string;
  readonly value: number;
  readonly date?: string;
  readonly method?: string;
  readonly side?: 'left' | 'right';
  readonly more?: JsonObject;
}

function angle(code: string, stage: string, given: Angle): JsonObject {
  const { id, value, date = '2026-11-02', method, side = 'left', more = {} } = given;
  return measure(code, quantity(value, 'deg'), {
    id,
    stages: [stage],
    date,
    ...(method !== undefined && { with: { method } }),
    more: { bodySite: snomed(side === 'left' ? CODE.leftHipSite : CODE.rightHipSite), ...more },
  });
}

const inclined = (stage: string, given: Angle): JsonObject => angle('cup-inclination', stage, given);
const stemmed = (stage: string, given: Angle): JsonObject => angle('stem-anteversion', stage, given);

function retains(...parts: readonly string[]): readonly JsonObject[] {
  return parts.map((part) => measure('component-retained', coded(part), { id: `keeps-${part}`, more: TIED }));
}

function revising(sets: Sets): PatientRecord {
  return signing([order({ code: REVISION })], { procedures: [replacement('left')], ...sets });
}

function planned(record: PatientRecord, id: string, hip: 'left' | 'right' = 'left'): unknown {
  return valueOf(factOf(record, id, hip, 'planned'));
}

function kinds(record: PatientRecord): readonly string[] {
  return record.hips.flatMap(({ findings }) => findings.map(({ kind }) => kind));
}

const PLAN_40 = inclined('planned', { id: 'plan', value: 40, more: TIED });
const IN_PLACE_55 = inclined('postoperative', { id: 'film', value: 55, date: '2026-11-20', method: 'ct' });

describe('a planned construct', () => {
  it('is never judged by what is in place, however newer and better measured that is', () => {
    expect(planned(revising({ measures: [PLAN_40, IN_PLACE_55] }), 'cup-inclination')).toEqual([40, 40]);
  });

  it('takes nothing from what is in place for a component it exchanges, or does not speak of', () => {
    expect(planned(revising({ measures: [IN_PLACE_55] }), 'cup-inclination')).toBe('not-recorded');
    expect(planned(revising({ measures: [IN_PLACE_55, ...retains('stem')] }), 'cup-inclination')).toBe(
      'not-recorded',
    );
  });

  it('takes a retained component from what is in place, marked with date, method and measuring band', () => {
    const ct = stemmed('postoperative', { id: 'ct', value: -5, date: '2026-10-04', method: 'ct' });
    const fact = factOf(
      revising({ measures: [PLAN_40, ct, ...retains('stem')] }),
      'stem-anteversion',
      'left',
      'planned',
    );
    expect(fact).toMatchObject({
      retained: true,
      stage: 'postoperative',
      method: 'ct',
      provenance: { from: ['Observation/ct'], date: '2026-10-04' },
    });
    expect(valueOf(fact)).toEqual([-5, -5]);
  });

  it('allows a retained cup the error of its measurement, and a planned one none', () => {
    const film = inclined('postoperative', { id: 'film', value: 46, method: 'ap-film', date: '2026-10-04' });
    const retained = revising({ measures: [film, ...retains('cup')] });
    // Clinical decisions §3: AP film ± 2° of inclination, CT ± 2°.
    expect(factOf(retained, 'cup-inclination', 'left', 'planned')).toMatchObject({
      retained: true,
      error: 2,
    });
    const new_ = factOf(revising({ measures: [PLAN_40] }), 'cup-inclination', 'left', 'planned');
    expect(new_?.error ?? 0).toBe(0);
    expect(new_).not.toHaveProperty('retained');
  });

  it('keeps its own value for a component that it calls retained', () => {
    const said = stemmed('planned', { id: 'said', value: 12, more: TIED });
    const ct = stemmed('postoperative', { id: 'ct', value: -5, method: 'ct' });
    const record = revising({ measures: [said, ct, ...retains('stem')] });
    expect(planned(record, 'stem-anteversion')).toEqual([12, 12]);
  });

  it('retains only on the hip it is planned for', () => {
    const both = ['left', 'right'] as const;
    const drafts = both.map((side) =>
      order({
        id: `order-${side}`,
        code: REVISION,
        bodySite: [snomed(side === 'left' ? CODE.leftHipSite : CODE.rightHipSite)],
      }),
    );
    const measures = [
      ...both.map((side, index) =>
        stemmed('postoperative', { id: `ct-${side}`, value: index + 3, method: 'ct', side }),
      ),
      measure('component-retained', coded('stem'), { id: 'keeps' }),
    ];
    const record = signing(drafts, { measures, procedures: both.map((side) => replacement(side)) });
    expect(planned(record, 'stem-anteversion', 'left')).toEqual([3, 3]);
    expect(planned(record, 'stem-anteversion', 'right')).toBe('not-recorded');
  });

  it('takes a bearing couple from what is in place only when head and liner both stay', () => {
    const couple = measure('bearing-couple', coded('metal-on-metal'), { stages: ['postoperative'] });
    expect(planned(revising({ measures: [couple, ...retains('head')] }), 'bearing-couple')).toBe(
      'not-recorded',
    );
    expect(planned(revising({ measures: [couple, ...retains('head', 'liner')] }), 'bearing-couple')).toEqual([
      'metal-on-metal',
    ]);
  });
});

describe('of several values of a component in place', () => {
  const chosen = (...measures: readonly JsonObject[]): unknown =>
    planned(revising({ measures: [...measures, ...retains('cup')] }), 'cup-inclination');
  const ORDERED = ['ct', 'navigation', 'cross-table', 'ap-film', 'estimate'] as const;

  it('the better method counts before the newer date', () => {
    // Clinical decisions §2: CT, navigation, cross-table lateral, AP film, estimate.
    for (const [index, better] of ORDERED.entries()) {
      for (const worse of ORDERED.slice(index + 1)) {
        const old = inclined('postoperative', { id: 'a', value: 44, method: better, date: '2020-01-01' });
        const young = inclined('postoperative', { id: 'b', value: 45, method: worse, date: '2026-01-01' });
        expect(chosen(old, young), `${better} before ${worse}`).toEqual([44, 44]);
        expect(chosen(young, old), `${better} before ${worse}`).toEqual([44, 44]);
      }
    }
  });

  it('a value without a method is an estimate', () => {
    const silent = inclined('postoperative', { id: 'a', value: 44, date: '2026-01-01' });
    const film = inclined('postoperative', { id: 'b', value: 45, method: 'ap-film', date: '2020-01-01' });
    const estimate = inclined('postoperative', {
      id: 'c',
      value: 46,
      method: 'estimate',
      date: '2021-01-01',
    });
    expect(chosen(silent, film)).toEqual([45, 45]);
    expect(chosen(silent, estimate)).toEqual([44, 44]);
  });

  it('of one method the newer counts', () => {
    const old = inclined('postoperative', { id: 'a', value: 44, method: 'ct', date: '2020-01-01' });
    const young = inclined('postoperative', { id: 'b', value: 45, method: 'ct', date: '2021-01-01' });
    expect(chosen(old, young)).toEqual([45, 45]);
  });
});

describe('a plan', () => {
  const ORDER_2 = 'ServiceRequest/order-2';
  const tiedTo = (reference: string): JsonObject => ({ basedOn: [{ reference }] });
  const rightPlan = (more: JsonObject = {}): JsonObject =>
    inclined('planned', { id: 'right-plan', value: 41, side: 'right', more });
  const rightOrder = (more: JsonObject = {}): JsonObject =>
    order({ id: 'order-2', status: 'active', bodySite: [snomed(CODE.rightHipSite)], ...more });

  it.each(['revoked', 'completed', 'entered-in-error'])('of a %s order is not used', (status) => {
    const old = inclined('planned', { id: 'old', value: 60, more: tiedTo(ORDER_2) });
    const closed = order({ id: 'order-2', status });
    const record = signing([order()], { measures: [old], serviceRequests: [closed] });
    expect(planned(record, 'cup-inclination')).toBe('not-recorded');
    expect(record.notes.map(({ from }) => from)).toEqual(['Observation/old']);
    const current = signing([order()], { measures: [old, PLAN_40], serviceRequests: [closed] });
    // One plan is current: the old one neither counts nor conflicts.
    expect(planned(current, 'cup-inclination')).toEqual([40, 40]);
    expect(kinds(current)).toEqual([]);
  });

  it('newer than an earlier one of the same order replaces it', () => {
    const first = inclined('planned', { id: 'first', value: 60, date: '2026-09-01', more: TIED });
    const record = signing([order()], { measures: [first, PLAN_40] });
    expect(planned(record, 'cup-inclination')).toEqual([40, 40]);
    expect(kinds(record)).toEqual([]);
  });

  it('carried out since by a replacement of that hip is over', () => {
    const old = inclined('planned', { id: 'old', value: 60, date: '2026-08-01' });
    const done = replacement('left', { performedDateTime: '2026-09-01' });
    const revision = order({ code: REVISION });
    const record = signing([revision], { measures: [old], procedures: [done] });
    expect(planned(record, 'cup-inclination')).toBe('not-recorded');
    expect(record.notes.map(({ from }) => from)).toContain('Observation/old');
    // Not by one that was done before, on the other side, or never.
    for (const other of [
      replacement('left', { performedDateTime: '2026-07-01' }),
      replacement('right', { performedDateTime: '2026-09-01' }),
      replacement('left', { performedDateTime: '2026-09-01', status: 'preparation' }),
    ]) {
      const kept = signing([revision], { measures: [old], procedures: [other] });
      expect(planned(kept, 'cup-inclination')).toEqual([60, 60]);
    }
  });

  it('tied to the order by its number, requisition or visit, for the other side, is a conflict', () => {
    const requisition = { system: 'https://record.example/groups', value: 'g-1' };
    const encounter = { reference: 'Encounter/e' };
    const ways: readonly (readonly [JsonObject, JsonObject])[] = [
      [{}, TIED],
      [{ requisition }, { groupIdentifier: requisition }],
      [{ encounter }, { encounter }],
    ];
    for (const [ordered, tie] of ways) {
      const record = signing([order(ordered)], { measures: [rightPlan(tie)] });
      expect(kinds(record), Object.keys(tie).join()).toEqual(['side-conflict']);
    }
    // A draft without id is tied by requisition or visit alone.
    const nameless = without(order({ encounter }), 'id');
    expect(kinds(signing([nameless], { measures: [rightPlan({ encounter })] }))).toEqual(['side-conflict']);
  });

  it('tied to the order is no conflict once that side was replaced after the plan was made', () => {
    const tied = rightPlan(TIED);
    const after = replacement('right', { performedDateTime: '2026-11-10' });
    const before = replacement('right', { performedDateTime: '2026-10-10' });
    expect(kinds(signing([order()], { measures: [tied], procedures: [before] }))).toEqual(['side-conflict']);
    expect(kinds(signing([order()], { measures: [tied], procedures: [after] }))).toEqual([]);
  });

  it('for each side of a staged bilateral operation is no conflict', () => {
    const measures = [PLAN_40, rightPlan(tiedTo(ORDER_2))];
    const onRecord = signing([order()], { measures, serviceRequests: [rightOrder()] });
    expect(kinds(onRecord)).toEqual([]);
    const together = signing([order(), rightOrder({ status: 'draft' })], { measures });
    expect(kinds(together)).toEqual([]);
    expect(planned(together, 'cup-inclination', 'right')).toEqual([41, 41]);
    const bilateral = order({ bodySite: [snomed(CODE.leftHipSite), snomed(CODE.rightHipSite)] });
    expect(kinds(signing([bilateral], { measures: [PLAN_40, rightPlan(TIED)] }))).toEqual([]);
  });

  it('unlinked and for the other side is pointed out only while that side has no open order', () => {
    expect(kinds(signing([order()], { measures: [rightPlan()] }))).toEqual(['other-side-plan']);
    const open = signing([order()], { measures: [rightPlan()], serviceRequests: [rightOrder()] });
    expect(kinds(open)).toEqual([]);
    for (const status of ['completed', 'revoked']) {
      const closed = signing([order()], {
        measures: [rightPlan()],
        serviceRequests: [rightOrder({ status })],
      });
      expect(kinds(closed), status).toEqual(['other-side-plan']);
    }
    const asked = rightOrder({ intent: 'option' });
    expect(kinds(signing([order()], { measures: [rightPlan()], serviceRequests: [asked] }))).toEqual([
      'other-side-plan',
    ]);
    // Done since, it is history.
    const done = replacement('right', { performedDateTime: '2026-11-10' });
    expect(kinds(signing([order()], { measures: [rightPlan()], procedures: [done] }))).toEqual([]);
  });

  it('that names an order nobody sent is no conflict and no stranger', () => {
    const record = signing([order()], { measures: [rightPlan(tiedTo('ServiceRequest/elsewhere'))] });
    expect(kinds(record)).toEqual([]);
  });
});

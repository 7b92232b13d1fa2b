import { describe, expect, it } from 'vitest';
import { readCoding } from '../../src/fhir/codings.js';
import { sideOf, sideOfCode } from '../../src/facts/laterality.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { shipped } from '../rulebook/shipped.js';
import {
  CODE,
  ICD,
  condition,
  fact,
  findingKinds,
  hipOf,
  measure,
  order,
  quantity,
  read,
  snomed,
  stateOf,
  without,
} from './records.js';

const { laterality, aliases } = shipped.knowledge;

function side(more: JsonObject): string {
  const bare = without(order(), 'bodySite');
  const reading = sideOf({ ...bare, ...more }, laterality, aliases);
  return reading.kind === 'sides' ? reading.sides.join('+') : reading.kind;
}

// Truth throughout: integration decisions §1, "Side", one row per carrier.
describe('the side of an order', () => {
  it.each<[string, string, JsonObject]>([
    ['left', 'a sided code', { code: snomed(CODE.totalHipLeft) }],
    ['right', 'a sided code', { code: snomed(CODE.totalHipRight) }],
    ['left+right', 'a bilateral code', { code: snomed(CODE.totalHipBoth) }],
    ['left', 'a sided body site', { bodySite: [snomed(CODE.leftHipSite)] }],
    ['right', 'a sided body site', { bodySite: [snomed(CODE.rightHipSite)] }],
    [
      'left',
      'a hip site with the side as its second coding',
      { bodySite: [snomed(CODE.hipSite, CODE.left)] },
    ],
    [
      'right',
      'a hip region with the side as its second coding',
      { bodySite: [snomed(CODE.hipRegion, CODE.right)] },
    ],
    [
      'left',
      'a hip site with the side as a second entry',
      { bodySite: [snomed(CODE.hipSite), snomed(CODE.left)] },
    ],
    [
      'right',
      'a side first and a hip site as a second entry',
      { bodySite: [snomed(CODE.right), snomed(CODE.hipSite)] },
    ],
    ['left+right', 'a hip site with "right and left"', { bodySite: [snomed(CODE.hipSite, CODE.both)] }],
    ['left', 'a bare side on a hip code', { bodySite: [snomed(CODE.left)] }],
    ['left', 'a side beside the code', { code: snomed(CODE.totalHip, CODE.left) }],
    ['right', 'an order detail that is a side', { orderDetail: [snomed(CODE.right)] }],
    [
      'left',
      'two carriers that agree',
      { code: snomed(CODE.totalHipLeft), bodySite: [snomed(CODE.leftHipSite)] },
    ],
    [
      'left+right',
      'both sided sites as separate entries',
      { bodySite: [snomed(CODE.leftHipSite), snomed(CODE.rightHipSite)] },
    ],
    [
      'left+right',
      'both sides as separate entries beside a hip site',
      { bodySite: [snomed(CODE.hipSite), snomed(CODE.left), snomed(CODE.right)] },
    ],
  ])('is %s by %s', (expected, _carrier, more) => {
    expect(side(more)).toBe(expected);
  });

  it.each<[string, JsonObject]>([
    ['nothing at all', {}],
    ['a hip site without a side', { bodySite: [snomed(CODE.hipSite)] }],
    ['text alone', { bodySite: [{ text: 'left hip' }], note: [{ text: 'left' }] }],
    [
      'a side in another code system',
      { bodySite: [{ coding: [{ system: 'http://example.org', code: CODE.left }] }] },
    ],
    ['a side without a code system', { bodySite: [{ coding: [{ code: CODE.left }] }] }],
    ['an order detail that is none', { orderDetail: [snomed(CODE.hipSite)] }],
  ])('is unknown by %s', (_carrier, more) => {
    expect(side(more)).toBe('unknown');
  });

  it.each<[string, JsonObject]>([
    ['code and body site', { code: snomed(CODE.totalHipLeft), bodySite: [snomed(CODE.rightHipSite)] }],
    ['two codings of the code', { code: snomed(CODE.totalHipLeft, CODE.totalHipRight) }],
    ['two codings of one body site', { bodySite: [snomed(CODE.leftHipSite, CODE.rightHipSite)] }],
    ['both sides inside one body site', { bodySite: [snomed(CODE.hipSite, CODE.left, CODE.right)] }],
    [
      'body site and order detail',
      { bodySite: [snomed(CODE.leftHipSite)], orderDetail: [snomed(CODE.right)] },
    ],
    [
      'a sided code and both sites',
      { code: snomed(CODE.totalHipLeft), bodySite: [snomed(CODE.leftHipSite), snomed(CODE.rightHipSite)] },
    ],
    [
      'a bilateral code and one site',
      { code: snomed(CODE.totalHipBoth), bodySite: [snomed(CODE.leftHipSite)] },
    ],
  ])('is in conflict between %s', (_carrier, more) => {
    expect(side(more)).toBe('conflict');
  });

  it('as one site in an Observation is read like one entry of a list', () => {
    // Truth: published, FHIR R4: Observation.bodySite is one CodeableConcept, ServiceRequest.bodySite a list.
    expect(side({ bodySite: snomed(CODE.leftHipSite) })).toBe('left');
    expect(side({ bodySite: snomed(CODE.hipSite, CODE.right) })).toBe('right');
  });
});

describe('the side that an ICD-10-CM code states', () => {
  it.each([
    // Truth: published, ICD-10-CM code titles; read family by family because no position holds for all.
    ['M16.11', 'right'],
    ['M16.12', 'left'],
    ['M16.0', 'bilateral'],
    ['M16.2', 'bilateral'],
    ['M16.7', undefined],
    ['M16.9', undefined],
    ['M16.10', undefined],
    ['T84.020A', 'right'],
    ['T84.021A', 'left'],
    ['T84.022A', undefined],
    ['T84.029A', undefined],
    ['T84.51XA', 'right'],
    ['T84.52XD', 'left'],
    ['T84.53XA', undefined],
    ['S72.001A', 'right'],
    ['S72.002A', 'left'],
    ['S72.009A', undefined],
    ['S72.041A', 'right'],
    ['S72.045A', 'left'],
    ['S72.046A', undefined],
    ['S73.005A', 'left'],
    ['Q65.01', 'right'],
    ['Q65.02', 'left'],
    ['Q65.1', 'bilateral'],
    ['Q65.00', undefined],
    ['M87.051', 'right'],
    ['M87.050', undefined],
    ['M87.353', undefined],
    ['Z96.641', 'right'],
    ['Z96.642', 'left'],
    ['Z96.643', 'bilateral'],
    ['Z96.649', undefined],
    ['M97.01XA', 'right'],
    ['M97.02XA', 'left'],
    ['G81.91', 'right'],
    ['G81.94', 'left'],
    ['I69.351', 'right'],
    ['I69.354', 'left'],
    ['G20.A1', undefined],
    ['Z98.1', undefined],
  ])('%s is %s', (code, expected) => {
    expect(sideOfCode(readCoding({ system: ICD, code }, aliases), laterality)).toBe(expected);
  });

  it('is not read from a code of another system', () => {
    // Truth: closed form.
    expect(sideOfCode({ system: 'http://example.org', code: 'M1612' }, laterality)).toBeUndefined();
    expect(sideOfCode({ code: 'M1612' }, laterality)).toBeUndefined();
  });
});

describe('the hips of an evaluation', () => {
  it('are both when both are ordered, in one order or in two', () => {
    // Truth: integration decisions §1: left and right as separate entries with an unsided code are good input.
    const one = read({
      orders: [order({ bodySite: [snomed(CODE.leftHipSite), snomed(CODE.rightHipSite)] })],
    });
    const two = read({
      orders: [order(), order({ id: 'second', bodySite: [snomed(CODE.rightHipSite)] })],
    });
    for (const record of [one, two]) {
      expect(record.hips.map(({ hip }) => hip)).toEqual(['left', 'right']);
      expect(record.hips.flatMap((hip) => hip.findings)).toEqual([]);
    }
  });

  it('is one of unknown side when no statement of it was found', () => {
    expect(
      read({ orders: [order({ bodySite: [snomed(CODE.hipSite)] })] }).hips.map(({ hip }) => hip),
    ).toEqual(['unknown']);
  });

  it('of an order that contradicts itself say so', () => {
    const orders = [order({ code: snomed(CODE.totalHipRight) })];
    expect(findingKinds({ orders }, 'unknown')).toEqual(['side-contradiction']);
  });

  it('of a measure or a relevant diagnosis that contradicts itself say so, and neither is used', () => {
    const both = { bodySite: snomed(CODE.leftHipSite, CODE.rightHipSite) };
    const measures = [measure('cup-inclination', quantity(60, 'deg'), { more: both })];
    expect(findingKinds({ measures })).toEqual(['side-contradiction']);
    expect(hipOf(read({ measures })).facts.get('cup-inclination')?.state).toMatchObject({
      reason: 'refused',
    });
    const conditions = [
      condition('c', {
        coding: [
          { system: ICD, code: 'T84.020A' },
          { system: ICD, code: 'T84.021A' },
        ],
      }),
    ];
    expect(findingKinds({ conditions })).toEqual(['side-contradiction']);
  });

  it('of a plan tied to the order by name, on the other side, are in conflict; of one tied to nothing, not', () => {
    // Truth: clinical decisions §2, side: compare only a plan tied to the order.
    const right = { bodySite: snomed(CODE.rightHipSite) };
    const tied = measure('cup-inclination', quantity(40, 'deg'), {
      more: { ...right, basedOn: [{ reference: 'ServiceRequest/order' }] },
    });
    const loose = measure('cup-inclination', quantity(40, 'deg'), { more: right });
    expect(findingKinds({ measures: [tied] })).toEqual(['side-conflict']);
    expect(findingKinds({ measures: [loose] })).toEqual(['other-side-plan']);
    const encounter = { encounter: { reference: 'Encounter/e' } };
    expect(
      findingKinds({
        orders: [order(encounter)],
        measures: [measure('cup-inclination', quantity(40, 'deg'), { more: { ...right, ...encounter } })],
      }),
    ).toEqual(['side-conflict']);
  });

  it('say nothing of a plan for the other side that has its own open order', () => {
    // Truth: clinical decisions §2: nothing if that side has its own open order.
    const right = { bodySite: snomed(CODE.rightHipSite) };
    const measures = [measure('cup-inclination', quantity(40, 'deg'), { more: right })];
    const other = { ...order({ id: 'other', status: 'active' }), bodySite: [snomed(CODE.rightHipSite)] };
    expect(
      findingKinds({
        measures,
        prefetch: {
          serviceRequests: { resourceType: 'Bundle', type: 'searchset', entry: [{ resource: other }] },
        },
      }),
    ).toEqual([]);
  });

  it('miss the open orders only where there is a plan for the other side that they could explain', () => {
    // Truth: integration decisions §3: a set that was not read is missing only if it could have changed an outcome.
    const right = { bodySite: snomed(CODE.rightHipSite) };
    const loose = measure('cup-inclination', quantity(40, 'deg'), { more: right });
    const unread = { prefetch: { serviceRequests: undefined } };
    expect(stateOf('plans-for-other-side', unread)).toBe('absent');
    expect(stateOf('plans-for-other-side', { ...unread, measures: [loose] })).toBe('set-not-read');
    expect(fact('plans-for-other-side', { ...unread, measures: [loose] }).setsMissing).toEqual([
      'serviceRequests',
    ]);
    const blind = { prefetch: { serviceRequests: undefined, measures: undefined } };
    expect(fact('plans-for-other-side', blind).setsMissing).toEqual(['measures', 'serviceRequests']);
  });

  it('leave out the plan of an order that was revoked', () => {
    // Truth: clinical decisions §2: superseded when its order is revoked, completed or entered in error.
    const revoked = { ...order({ id: 'old', status: 'revoked' }) };
    const given = {
      measures: [
        measure('cup-inclination', quantity(70, 'deg'), {
          more: { basedOn: [{ reference: 'ServiceRequest/old' }] },
        }),
      ],
      prefetch: {
        serviceRequests: { resourceType: 'Bundle', type: 'searchset', entry: [{ resource: revoked }] },
      },
    };
    expect(hipOf(read(given)).facts.get('cup-inclination')?.state.status).toBe('unknown');
    const open = {
      ...given,
      prefetch: {
        serviceRequests: {
          resourceType: 'Bundle',
          type: 'searchset',
          entry: [{ resource: { ...revoked, status: 'active' } }],
        },
      },
    };
    expect(hipOf(read(open)).facts.get('cup-inclination')?.state.status).toBe('present');
  });

  it('of a plan and of a draft without id are compared by the encounter that both name', () => {
    // Truth: clinical decisions §2: tied also when both name the same Encounter, for a draft has no name to point to.
    const encounter = { encounter: { reference: 'Encounter/e' } };
    const draft = without(order(encounter), 'id');
    const measures = [
      measure('cup-inclination', quantity(40, 'deg'), {
        more: { bodySite: snomed(CODE.rightHipSite), ...encounter },
      }),
    ];
    expect(findingKinds({ orders: [draft], measures })).toEqual(['side-conflict']);
  });
});

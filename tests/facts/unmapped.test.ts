import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { translate } from '../../src/facts/site-maps.js';
import { unmappedCodings } from '../../src/facts/unmapped.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { shipped } from '../rulebook/shipped.js';
import { CODE, ICD, concept, condition, measure, order, quantity, snomed } from './records.js';
import { ANSWERS, MEASURES, ORDERS, SITES, VISITS, northCampus } from './sites.js';

const { knowledge } = shipped;

/** `type.element system|code ×count`, as short as it can be said. */
function unmapped(...resources: readonly JsonObject[]): readonly string[] {
  return unmappedCodings(resources, knowledge).map(
    ({ resourceType, element, system, code, count }) =>
      `${resourceType}.${element} ${system}|${code} ×${count}`,
  );
}

// Truth: integration decisions §4: codings that match nothing are counted by type, element, system, code; never text.
describe('codings that nothing knows', () => {
  it('are counted by resource, sorted, with neither text nor display', () => {
    const coding = { system: ORDERS, code: 'THA', display: 'Jane Roe', userSelected: true };
    const local = order({ code: { coding: [coding, coding], text: 'Jane Roe' } });
    const codings = unmappedCodings(
      [local, { ...local, id: 'two' }, order({ code: concept(ORDERS, 'A') })],
      knowledge,
    );
    expect(codings).toEqual([
      { resourceType: 'ServiceRequest', element: 'code', system: ORDERS, code: 'A', count: 1 },
      { resourceType: 'ServiceRequest', element: 'code', system: ORDERS, code: 'THA', count: 2 },
    ]);
  });

  it('are none on a resource that something knows, or that a map has translated', () => {
    const both = { coding: [{ system: ORDERS, code: 'X' }, ...(snomed(CODE.totalHip)['coding'] as [])] };
    expect(unmapped(order(), order({ code: both }), condition('c', 'G20.A1'))).toEqual([]);
    const local = order({ code: concept(ORDERS, 'THA') });
    expect(unmapped(translate(local, northCampus.maps).resource)).toEqual([]);
    expect(unmapped(local)).toHaveLength(1);
  });

  it('are looked for in every element that is read', () => {
    const code = concept(ORDERS, 'X');
    expect(
      unmapped(
        { resourceType: 'ServiceRequest', code },
        { resourceType: 'DeviceRequest', codeCodeableConcept: code, parameter: [{ code }] },
        { resourceType: 'Procedure', code },
        { resourceType: 'Condition', code },
        { resourceType: 'Observation', code },
        { resourceType: 'Device', type: code },
        { resourceType: 'Appointment', serviceType: [code], appointmentType: code, reasonCode: [code] },
        { resourceType: 'Patient', code },
      ),
    ).toEqual(
      [
        'Appointment.appointmentType',
        'Appointment.reasonCode',
        'Appointment.serviceType',
        'Condition.code',
        'Device.type',
        'DeviceRequest.codeCodeableConcept',
        'DeviceRequest.parameter.code',
        'Observation.code',
        'Procedure.code',
        'ServiceRequest.code',
      ].map((element) => `${element} ${ORDERS}|X ×1`),
    );
  });

  it('of a visit are told although its diagnosis is known: that is the type a site would have to map', () => {
    const visit = {
      resourceType: 'Appointment',
      serviceType: [concept(VISITS, 'ORTHO')],
      reasonCode: [concept(ICD, 'M16.12')],
    };
    expect(unmapped(visit)).toEqual([`Appointment.serviceType ${VISITS}|ORTHO ×1`]);
    expect(unmapped({ ...visit, appointmentType: snomed(CODE.plannedReplacement) })).toEqual([]);
  });

  it('are also answers, components and sites of what is ours', () => {
    const answer = concept(ANSWERS, 'X');
    const approach = measure('surgical-approach', { valueCodeableConcept: answer });
    const angle = measure('cup-inclination', quantity(40, 'deg'), {
      more: {
        bodySite: concept(SITES, 'LEFT?'),
        component: [
          { code: concept(MEASURES, 'DEFINITION?'), valueCodeableConcept: answer },
          {
            code: concept(shipped.about.systems.measure, 'angle-definition'),
            valueCodeableConcept: answer,
          },
        ],
      },
    });
    expect(unmapped(approach, angle)).toEqual([
      `Observation.bodySite ${SITES}|LEFT? ×1`,
      `Observation.component.code ${MEASURES}|DEFINITION? ×1`,
      `Observation.component.valueCodeableConcept ${ANSWERS}|X ×1`,
      `Observation.valueCodeableConcept ${ANSWERS}|X ×1`,
    ]);
    const item = { linkId: 'surgical-approach', answer: [{ valueCoding: { system: ANSWERS, code: 'X' } }] };
    const response = { resourceType: 'QuestionnaireResponse', item: [{ linkId: 'hip', item: [item] }] };
    expect(unmapped(response)).toEqual([`QuestionnaireResponse.item.answer.valueCoding ${ANSWERS}|X ×1`]);
    expect(unmapped({ ...response, item: [{ ...item, linkId: 'mood' }] })).toEqual([]);
    // A coded result of the ordinary record is nobody's answer to us.
    expect(
      unmapped({
        resourceType: 'Observation',
        code: concept('http://loinc.org', '39156-5'),
        valueCodeableConcept: answer,
      }),
    ).toEqual([]);
  });

  it('without a system are told with a dash; what is no code is cut short and made visible', () => {
    const free = `Jane Roe, ${'x'.repeat(100)}`;
    const code = {
      coding: [
        { code: 'THA' },
        { system: ORDERS },
        { system: ORDERS, code: free },
        { code: 'a\u0000\u202eb' },
      ],
    };
    const found = unmapped(order({ code }));
    expect(found).toContain('ServiceRequest.code -|THA ×1');
    expect(found).toContain('ServiceRequest.code -|a··b ×1');
    expect(found).toHaveLength(3);
    for (const { code: shown } of unmappedCodings([order({ code })], knowledge))
      expect(Array.from(shown).length).toBeLessThanOrEqual(64);
  });

  it('come in one order whatever the order of resources, and never from a throw', () => {
    const anyCode = fc.oneof(
      fc.constant(snomed(CODE.totalHip)),
      fc.jsonValue(),
      fc.constant(concept(ORDERS, 'A', 'B')),
    );
    const anyOne = fc.record({
      resourceType: fc.constantFrom(
        'ServiceRequest',
        'Observation',
        'DeviceRequest',
        'Appointment',
        '__proto__',
      ),
      code: anyCode,
      parameter: fc.oneof(fc.jsonValue(), fc.array(fc.record({ code: anyCode }))),
      component: fc.jsonValue(),
      bodySite: fc.jsonValue(),
      serviceType: fc.array(anyCode),
    });
    fc.assert(
      fc.property(fc.array(anyOne, { maxLength: 6 }), (resources) => {
        expect(unmapped(...[...resources].reverse())).toEqual(unmapped(...resources));
      }),
      { numRuns: 500, seed: 20261124 },
    );
  });
});

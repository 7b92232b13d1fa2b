import { describe, expect, it } from 'vitest';
import { ask, SNOMED, STEEP, withInclination, withoutPrefetch } from './cases.js';
import {
  BOOKING_PATH,
  bookingCall,
  ORDER,
  orderCall,
  planned,
  post,
  problem,
  rulesOf,
  searchset,
  testApp,
} from './test-service.js';

const app = testApp();

describe('booking', () => {
  const hipOrder = { ...ORDER, status: 'active' };
  const basedOn = [{ reference: 'ServiceRequest/order-1' }];

  it('based on an order nobody sent cannot be told, and says which data would', async () => {
    const bare = withoutPrefetch(bookingCall({ basedOn }));
    const issues = problem(await post(app, BOOKING_PATH, bare), 412);
    // P9, E2, E9; integration decisions section 2: enough to decide recognition, else 412.
    expect(issues[0]?.code).toBe('incomplete');
    expect(issues[0]?.expression).toEqual(['context.appointments']);
    expect(issues[0]?.diagnostics).toMatch(/serviceRequests/);
  });

  it('based on an order that was sent is recognised, wherever it came', async () => {
    const parkinson = {
      resourceType: 'Condition',
      id: 'condition-1',
      subject: { reference: 'Patient/patient-1' },
      code: { coding: [{ system: 'http://hl7.org/fhir/sid/icd-10-cm', code: 'G20.A1' }] },
    };
    const conditions = searchset(parkinson);
    const contained = { basedOn: [{ reference: '#o' }], contained: [{ ...hipOrder, id: 'o' }] };
    const calls = [
      bookingCall({ basedOn }, { conditions, serviceRequests: searchset(hipOrder) }),
      bookingCall(contained, { conditions }),
      bookingCall({ serviceType: [ORDER['code']] }, { conditions }),
      bookingCall({ reasonCode: [ORDER['code']] }, { conditions }),
      bookingCall({ appointmentType: ORDER['code'] }, { conditions }),
    ];
    for (const call of calls) {
      // H7; integration decisions section 1, apptYes.
      expect(rulesOf(await ask(call))).toEqual(['neurological-disease']);
    }
  });

  it('that is no hip visit gets no card, whatever else is on record', async () => {
    const sleep = { serviceType: [{ coding: [{ system: SNOMED, code: '310249008' }] }] };
    // H7.
    expect(await ask(bookingCall(sleep, { measures: searchset(...withInclination(STEEP)) }))).toEqual([]);
    // Integration decisions section 1: a diagnosis alone never suffices.
    const arthritis = { reasonCode: [{ coding: [{ system: SNOMED, code: '239872002' }] }] };
    expect(await ask(bookingCall(arthritis))).toEqual([]);
  });

  it('that is over, or somebody else’s, gets no card', async () => {
    const hip = { serviceType: [{ coding: [{ system: SNOMED, code: '770606008' }] }] };
    const measures = searchset(planned('cup-inclination', 400, 'deg'));
    // The same visit live does speak, so that silence below means something.
    expect(rulesOf(await ask(bookingCall(hip, { measures })))).toEqual([
      'measure-implausible-or-conflicting',
    ]);
    // Integration decisions section 1, liveAppt.
    for (const status of ['cancelled', 'noshow', 'entered-in-error', 'fulfilled']) {
      expect(await ask(bookingCall({ ...hip, status }, { measures })), status).toEqual([]);
    }
    const participant = [{ actor: { reference: 'Patient/patient-2' }, status: 'accepted' }];
    expect(await ask(bookingCall({ ...hip, participant }, { measures }))).toEqual([]);
  });
});

describe('a visit that states no side', () => {
  it('does not silence an impossible value planned for one', async () => {
    const measures = searchset(planned('cup-inclination', 400, 'deg'));
    // Clinical decisions section 1: impossible values need no trigger; nothing else about them depends on the side.
    const cards = await ask(bookingCall({ serviceType: [ORDER['code']] }, { measures }));
    expect(cards.length).toBe(1);
    expect(cards[0]?.detail).toMatch(/cup inclination|states no side/);
  });
});

describe('a user who is no professional', () => {
  it('gets no card, at booking or signing', async () => {
    // H6; integration decisions section 3, audience.
    for (const userId of ['Patient/patient-1', 'RelatedPerson/daughter-1']) {
      const steep = orderCall({ measures: withInclination(STEEP), context: { userId } });
      expect(await ask(steep)).toEqual([]);
      const visit = bookingCall(
        { serviceType: [{ coding: [{ system: SNOMED, code: '770606008' }] }] },
        { measures: searchset(planned('cup-inclination', 400, 'deg')) },
      );
      expect(await ask({ ...visit, context: { ...visit.context, userId } })).toEqual([]);
    }
  });
});

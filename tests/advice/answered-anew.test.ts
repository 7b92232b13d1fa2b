import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { PATIENT, concept, condition, order, searchset } from '../facts/records.js';
import { NOW, answerTo, service } from './patients.js';

/** An answered card stays quiet only as long as everything it told is as it was. */

const WORK_UP = 'unstable-hip-work-up';
const dislocated = (id: string, onsetDateTime: string): JsonObject =>
  condition(id, 'T84.021A', { onsetDateTime });
const crp = (value: number): JsonObject => ({
  resourceType: 'Observation',
  id: 'crp',
  status: 'final',
  code: concept('http://loinc.org', '1988-5'),
  subject: PATIENT,
  effectiveDateTime: '2026-11-20',
  valueQuantity: { value, unit: 'mg/L', system: 'http://unitsofmeasure.org', code: 'mg/L' },
});
const FIRST = dislocated('first', '2026-03-01');

async function workUp(
  more: {
    readonly conditions?: readonly JsonObject[];
    readonly observations?: readonly JsonObject[];
    readonly measures?: readonly JsonObject[];
  },
  acknowledged: ReadonlySet<string> = new Set(),
): Promise<{ readonly hash: string | undefined; readonly shown: boolean }> {
  const answer = await answerTo({
    service: service('patient-view'),
    hookInstance: 'd1577c69-dfbe-44ad-ba6d-3e05e953b2ea',
    patientId: 'p',
    userId: 'Practitioner/x',
    context: { patientId: 'p', userId: 'Practitioner/x' },
    prefetch: {
      patient: { resourceType: 'Patient', id: 'p' },
      conditions: searchset(FIRST, ...(more.conditions ?? [])),
      procedures: searchset({
        ...order(),
        resourceType: 'Procedure',
        id: 'thr',
        status: 'completed',
        performedDateTime: '2015-06-01',
      }),
      measures: searchset(...(more.measures ?? [])),
      observations: searchset(...(more.observations ?? [])),
      serviceRequests: searchset(),
      devices: searchset(),
      deviceUses: searchset(),
      deviceRequests: searchset(),
      questionnaireResponses: searchset(),
    },
    iss: '-',
    now: NOW,
    engine: '0.1.0',
    acknowledged,
  });
  const all = [...answer.cards, ...answer.kept.map(({ card }) => card.card)];
  const card = all.find(({ source }) => source.topic.code === WORK_UP);
  const hash = card?.extension['example.kotyle.advisory']['acknowledgement'];
  return {
    hash: typeof hash === 'string' ? hash : undefined,
    shown: answer.cards.some(({ source }) => source.topic.code === WORK_UP),
  };
}

// Truth: clinical.md's rule that an answer holds until what was told changes; each case below changes a line of the card.
describe('an answered work-up', () => {
  it('stays quiet as long as nothing changed', async () => {
    const { hash, shown } = await workUp({});
    expect(shown).toBe(true);
    expect(await workUp({}, new Set([hash ?? '']))).toEqual({ hash, shown: false });
  });

  it('stays quiet when the same dislocation is only written down once more', async () => {
    const { hash } = await workUp({});
    const again = { conditions: [dislocated('visit', '2026-03-01')] };
    expect(await workUp(again, new Set([hash ?? '']))).toMatchObject({ shown: false });
  });

  it.each<[string, Parameters<typeof workUp>[0]]>([
    ['an infection', { conditions: [condition('infected', 'T84.52XA')] }],
    ['a loosening', { conditions: [condition('loose', 'T84.031A')] }],
    ['a fracture about it', { conditions: [condition('broken', 'M97.02XA')] }],
    ['a second dislocation, by diagnosis only', { conditions: [dislocated('second', '2026-10-01')] }],
    ['a CRP of 85 mg/L', { observations: [crp(85)] }],
  ])('comes back with %s', async (_what, more) => {
    const { hash } = await workUp({});
    expect(await workUp(more, new Set([hash ?? '']))).toMatchObject({ shown: true });
  });
});

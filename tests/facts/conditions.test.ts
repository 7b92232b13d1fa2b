import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import type { Case } from './records.js';
import {
  CODE,
  ICD,
  SNOMED,
  clinical,
  concept,
  condition,
  fact,
  order,
  read,
  searchset,
  snomed,
  stateOf,
  verified,
  without,
} from './records.js';

const PARKINSON = 'G20.A1';
const LEFT_DISLOCATION = 'T84.021A';

const having = (...conditions: readonly JsonObject[]): Case => ({ conditions });

describe('a diagnosis', () => {
  it.each([
    ['refuted', verified('refuted')],
    ['entered in error', verified('entered-in-error')],
  ])('that was %s is none', (_what, more) => {
    // Truth: published, FHIR R4 condition-ver-status.
    const given = having(condition('c', PARKINSON, more));
    expect(stateOf('parkinson-disease', given)).toBe('absent');
    expect(read(given).notes.map(({ from }) => from)).toEqual(['Condition/c']);
  });

  it.each(['unconfirmed', 'provisional', 'differential'])('that is only %s counts, and says so', (status) => {
    // Truth: published, FHIR R4 condition-ver-status: these are unconfirmed; a doubt is told, not dropped.
    const found = fact('parkinson-disease', having(condition('c', PARKINSON, verified(status))));
    expect(found.state.status).toBe('present');
    expect(found.remarks.join()).toMatch(/not confirmed/);
  });

  it('that is confirmed in one entry needs no such remark for another entry', () => {
    // Truth: closed form.
    const found = fact(
      'parkinson-disease',
      having(condition('a', PARKINSON, verified('provisional')), condition('b', PARKINSON)),
    );
    expect(found.remarks).toEqual([]);
    expect(found.provenance.from).toEqual(['Condition/a', 'Condition/b']);
  });

  it.each(['inactive', 'remission', 'resolved'])(
    'that is %s is over where only the present matters, and counts where once is enough',
    (status) => {
      // Truth: published, FHIR R4 condition-clinical; clinical decisions §1: an earlier dislocation, a documented fusion.
      const over = clinical(status);
      expect(stateOf('dementia', having(condition('c', 'F03.90', over)))).toBe('absent');
      // Parkinson disease does not go away, whatever its entry was set to.
      expect(stateOf('parkinson-disease', having(condition('c', PARKINSON, over)))).toBe('present');
      expect(stateOf('prosthesis-dislocation', having(condition('c', LEFT_DISLOCATION, over)))).toBe(
        'present',
      );
      expect(stateOf('lumbar-fusion', having(condition('c', 'M43.26', over)))).toBe('present');
    },
  );

  it.each(['active', 'recurrence', 'relapse'])('that is %s is current', (status) => {
    // Truth: published, FHIR R4 condition-clinical.
    expect(stateOf('parkinson-disease', having(condition('c', PARKINSON, clinical(status))))).toBe('present');
  });

  it('without any status counts as current and certain', () => {
    // Truth: FHIR R4 leaves both statuses optional; many records send neither.
    const bare = without(condition('c', PARKINSON), 'clinicalStatus', 'verificationStatus');
    const found = fact('parkinson-disease', having(bare));
    expect(found.state.status).toBe('present');
    expect(found.remarks).toEqual([]);
  });

  it.each<[string, JsonObject]>([
    ['a clinical status that is no code of R4', clinical('dormant')],
    ['a clinical status of another system', { clinicalStatus: concept('http://example.org', 'active') }],
    ['a verification status that is no code of R4', verified('rumoured')],
    ['a modifier that is not known', { modifierExtension: [{ url: 'http://example.org/not' }] }],
    ['a date that does not exist', { onsetDateTime: '2024-02-31' }],
    ['a date in the future', { onsetDateTime: '2027-05-01' }],
  ])('with %s makes the answer unknown, neither present nor absent', (_what, more) => {
    // Truth: published, FHIR R4: both statuses and modifiers are modifier elements, which may turn the meaning around.
    const given = having(condition('c', PARKINSON, more));
    expect(stateOf('parkinson-disease', given)).toBe('refused');
    expect(stateOf('dementia', given)).toBe('absent');
  });

  it('with a second, readable entry is present all the same', () => {
    // Truth: closed form.
    const given = having(condition('a', PARKINSON, clinical('dormant')), condition('b', PARKINSON));
    expect(stateOf('parkinson-disease', given)).toBe('present');
  });

  it('dated within a day of the call is no prophecy', () => {
    // Truth: closed form; a clock ahead or a zone left out.
    const given = having(condition('c', PARKINSON, { onsetDateTime: '2026-11-25' }));
    expect(stateOf('parkinson-disease', given)).toBe('present');
  });

  it.each([
    [ICD, PARKINSON],
    [ICD, 'g20a1'],
    ['urn:oid:2.16.840.1.113883.6.90', PARKINSON],
    [SNOMED, '49049000'],
  ])('is found by %s|%s and by no text', (system, code) => {
    // Truth: published codes of Parkinson disease; integration decisions §1: never by text.
    expect(stateOf('parkinson-disease', having(condition('c', concept(system, code))))).toBe('present');
    const other = condition('c', { coding: [{ system: ICD, code: 'Z00.00' }], text: 'Parkinson disease' });
    expect(stateOf('parkinson-disease', having(other))).toBe('absent');
  });
});

// Truth: clinical decisions §8, codes that misfire.
describe('a code that misfires', () => {
  it('Z98.1 is fusion of any joint: cannot tell, never a lumbar fusion, and nothing else', () => {
    const given = having(condition('c', 'Z98.1'));
    expect(stateOf('lumbar-fusion', given)).toBe('code-unclear');
    expect(fact('lumbar-fusion', given).provenance.from).toEqual(['Condition/c']);
    expect(stateOf('spine-ankylosis', given)).toBe('absent');
    expect(stateOf('lumbar-fusion', having(condition('c', 'Z98.1', verified('refuted'))))).toBe('absent');
  });

  it('Z92.3 is irradiation of any site: the same', () => {
    expect(stateOf('pelvic-irradiation', having(condition('c', 'Z92.3')))).toBe('code-unclear');
    expect(stateOf('pelvic-irradiation', having(condition('c', snomed('429479009'))))).toBe('code-unclear');
    expect(stateOf('pelvic-irradiation', having())).toBe('absent');
  });

  it('Z98.1 beside a code that is a lumbar fusion leaves no doubt', () => {
    const given = having(condition('a', 'Z98.1'), condition('b', 'M43.26'));
    expect(stateOf('lumbar-fusion', given)).toBe('present');
  });

  it('T84.02- of the left hip is not the history of the right one', () => {
    const given = {
      ...having(condition('c', LEFT_DISLOCATION)),
      orders: [order({ bodySite: [snomed(CODE.leftHipSite), snomed(CODE.rightHipSite)] })],
    };
    expect(stateOf('prosthesis-dislocation', given, 'left')).toBe('present');
    expect(stateOf('prosthesis-dislocation', given, 'right')).toBe('absent');
  });

  it('T84.02- of a knee is no history of a hip', () => {
    for (const knee of ['T84.022A', 'T84.023A']) {
      expect(stateOf('prosthesis-dislocation', having(condition('c', knee)))).toBe('absent');
    }
  });

  it('S72.00- with A is a fresh fracture; with D healing, K nonunion or S sequela it is not', () => {
    // Truth: published, ICD-10-CM chapter 19: A initial, D and later subsequent, S sequela.
    for (const seventh of ['A', 'B', 'C']) {
      expect(stateOf('femoral-neck-fracture', having(condition('c', `S72.002${seventh}`)))).toBe('present');
    }
    for (const seventh of ['D', 'G', 'K', 'P', 'S']) {
      expect(stateOf('femoral-neck-fracture', having(condition('c', `S72.002${seventh}`)))).toBe('absent');
    }
    expect(stateOf('femoral-neck-fracture', having(condition('c', 'S72.001A')))).toBe('absent');
  });

  it('G20.C (parkinsonism) and G21 are not Parkinson disease', () => {
    for (const code of ['G20.C', 'G21.4']) {
      expect(stateOf('parkinson-disease', having(condition('c', code)))).toBe('absent');
    }
  });

  it('a stroke without deficit is no paresis', () => {
    // Truth: clinical decisions §1 and §10: past stroke without deficit is a negative twin.
    expect(stateOf('paresis', having(condition('c', 'Z86.73')))).toBe('absent');
  });
});

describe('the side of a diagnosis', () => {
  it('left open counts for both hips, and says so', () => {
    // Truth: the project's design: an unsided condition counts for both hips and says so.
    const given = {
      ...having(condition('c', snomed('314201008'))),
      orders: [order({ bodySite: [snomed(CODE.leftHipSite), snomed(CODE.rightHipSite)] })],
    };
    for (const hip of ['left', 'right'] as const) {
      const found = fact('prosthesis-dislocation', given, hip);
      expect(found.state.status).toBe('present');
      expect(found.remarks.join()).toMatch(/side not stated, counted for both hips/);
    }
  });

  it('may stand in the body site, and needs no remark for a disease of the patient', () => {
    // Truth: integration decisions §1, side of Condition.
    const sided = condition('c', snomed('314201008'), { bodySite: [snomed(CODE.leftHipSite)] });
    expect(fact('prosthesis-dislocation', having(sided)).remarks).toEqual([]);
    expect(fact('parkinson-disease', having(condition('c', PARKINSON))).remarks).toEqual([]);
  });

  it('cannot be matched with a hip whose own side is not known', () => {
    // Truth: closed form.
    const given = {
      ...having(condition('c', LEFT_DISLOCATION)),
      orders: [order({ bodySite: [snomed(CODE.hipSite)] })],
    };
    expect(stateOf('prosthesis-dislocation', given, 'unknown')).toBe('side-unknown');
  });
});

// Truth: the project's design: "not recorded" is absent only when the set was really and completely read.
describe('absence', () => {
  it('is known from an empty list, from null, and from a list of other diseases', () => {
    for (const conditions of [searchset(), null, searchset(condition('c', 'I10'))]) {
      expect(stateOf('parkinson-disease', { prefetch: { conditions } })).toBe('absent');
    }
  });

  it.each<[string, unknown]>([
    ['not sent', undefined],
    ['failed', { resourceType: 'OperationOutcome', issue: [{ severity: 'error', code: 'timeout' }] }],
    ['incomplete', { ...searchset(condition('c', 'I10')), link: [{ relation: 'next', url: 'x' }] }],
    ['some other resource', { resourceType: 'Patient', id: 'p' }],
    [
      'no list where a list should be',
      { resourceType: 'Bundle', type: 'searchset', entry: { resource: condition('c', PARKINSON) } },
    ],
  ])('is not known from a list that is %s', (_what, conditions) => {
    expect(stateOf('parkinson-disease', { prefetch: { conditions } })).not.toBe('absent');
  });

  it('names the list it would need', () => {
    const found = fact('parkinson-disease', { prefetch: { conditions: undefined } });
    expect(found.state).toMatchObject({
      status: 'unknown',
      reason: 'set-not-read',
      needs: ['parkinson-disease'],
    });
    expect(found.setsMissing).toEqual(['conditions']);
  });

  it.each<[string, unknown]>([
    ['text alone', { text: 'Parkinson disease' }],
    ['nothing', undefined],
    ['a code without a system', { coding: [{ code: 'G20.A1' }] }],
    ['a system without a code', { coding: [{ system: ICD }] }],
    ['a blank code', { coding: [{ system: ICD, code: '  ' }] }],
  ])('is not known while an entry is coded with %s', (_what, code) => {
    const entry = { ...condition('c', 'I10'), code };
    expect(stateOf('parkinson-disease', having(entry))).toBe('refused');
    expect(stateOf('parkinson-disease', having(entry, condition('d', PARKINSON)))).toBe('present');
  });

  it('is known again when the unreadable entry was refuted', () => {
    expect(
      stateOf(
        'parkinson-disease',
        having({ ...condition('c', 'I10', verified('refuted')), code: { text: 'x' } }),
      ),
    ).toBe('absent');
  });

  it('is not disturbed by a diagnosis of another patient', () => {
    const stranger = condition('c', PARKINSON, { subject: { reference: 'Patient/q' } });
    expect(stateOf('parkinson-disease', having(stranger))).toBe('absent');
  });
});

import { describe, expect, it } from 'vitest';
import { ICD, clinical, concept, verified } from '../facts/records.js';
import { CONDITIONS } from './code-meanings.js';
import { HIPS, billable, codesOf, exactIcd, expected, factsOf, ranked } from './single-code.js';
import { pcs } from './terminology-files.js';

describe('a negative twin', () => {
  const firstCodes = Object.entries(CONDITIONS).flatMap(([name, meaning]) => {
    const codes = codesOf(name).flatMap((copy) => billable('condition', copy, exactIcd));
    const first = codes.find((given) => expected(given).present.length > 0);
    return first ? [[name, first, meaning.facts[0] ?? ''] as const] : [];
  });

  it.each(firstCodes)('of %s: a diagnosis refuted or entered in error is none', (_name, given) => {
    for (const status of ['refuted', 'entered-in-error']) {
      const found = factsOf('condition', concept(given.system, given.code), verified(status));
      for (const hip of HIPS) expect(found[hip]).toEqual({ present: [], unclear: [] });
    }
  });

  // Truth: published notes on status: lifetime concepts match when resolved, active disease does not.
  const ACTIVE_ONLY = [
    'alcohol-use-disorder',
    'dementia',
    'depression',
    'failed-hip-fixation',
    'femoral-neck-fracture',
    'greater-trochanter-fracture',
    'greater-trochanter-nonunion',
    'hip-osteoarthritis',
    'hip-prosthesis-present',
    'hip-tumor',
    'leg-length-inequality-diagnosis',
    'lumbar-radiculopathy',
    'lumbar-spinal-stenosis',
    'myelopathy',
    'paresis',
    'periprosthetic-fracture',
    'periprosthetic-osteolysis',
    'prosthesis-breakage',
    'prosthesis-infection',
    'prosthesis-loosening',
    'prosthesis-malposition',
    'prosthesis-wear',
    'psychotic-disorder',
    'trendelenburg-gait',
  ];

  it.each(firstCodes)('of %s: once resolved it is over, unless once is enough', (_name, given, fact) => {
    const found = factsOf('condition', concept(given.system, given.code), clinical('resolved'));
    const present = ranked(HIPS.flatMap((hip) => found[hip].present));
    if (ACTIVE_ONLY.includes(fact)) expect(present).not.toContain(fact);
    else expect(present).toContain(fact);
  });

  it.each([
    ['the knee with an unstable prosthesis', 'T84.022A'],
    ['a prosthesis of an unnamed joint, dislocated', 'T84.029A'],
    ['an infected knee prosthesis', 'T84.53XA'],
    ['an artificial knee', 'Z96.651'],
    ['a fracture around a knee prosthesis', 'M97.11XA'],
    ['a past stroke without deficit', 'Z86.73'],
    ['alcohol dependence in remission', 'F10.21'],
    ['alcohol abuse in remission', 'F10.11'],
    ['parkinsonism of unstated cause', 'G20.C'],
    ['an arm bone of unequal length', 'M21.721'],
    ['overweight', 'E66.3'],
    ['a thoracic fusion', 'M43.24'],
  ])('from elsewhere, %s (%s), is no fact of a hip', (_what, code) => {
    const { left, right } = factsOf('condition', code);
    // M43.24 is a stiff thoracic spine, which is a fact of the patient.
    const stiff = code === 'M43.24' ? ['spine-ankylosis'] : [];
    expect(left).toEqual({ present: stiff, unclear: [] });
    expect(right).toEqual(left);
  });

  it('of a healed fracture: the same category with a later seventh character', () => {
    // Truth: published, ICD-10-CM chapter 19: D and later letters are healing, malunion or sequela.
    for (const code of ['S72.111D', 'S72.002D', 'S72.031P', 'M97.01XS'])
      expect(factsOf('condition', code)).toMatchObject({ left: { present: [] }, right: { present: [] } });
  });

  it('of an operation in a diagnosis, and of a diagnosis in an operation', () => {
    // Truth: closed form; each set is read where its codes belong.
    expect(factsOf('condition', concept(pcs, '0Q860ZZ')).right.present).toEqual([]);
    expect(factsOf('procedure', concept(ICD, 'M43.26')).right.present).toEqual([]);
  });
});

import { describe, expect, it } from 'vitest';
import { CODE, ICD, concept, snomed } from '../facts/records.js';
import { all, factsOf, scopeOf } from './single-code.js';
import { pcs } from './terminology-files.js';

// Typed by hand from the code titles: right, left, and the fact.
const PAIRS: readonly (readonly [string, string, string])[] = [
  ['M16.11', 'M16.12', 'hip-osteoarthritis'],
  ['M16.31', 'M16.32', 'hip-dysplasia'],
  ['Q65.01', 'Q65.02', 'hip-dysplasia'],
  ['Q65.31', 'Q65.32', 'hip-dysplasia'],
  ['M93.001', 'M93.002', 'slipped-epiphysis'],
  ['M93.061', 'M93.062', 'slipped-epiphysis'],
  ['M91.11', 'M91.12', 'perthes-disease'],
  ['M91.21', 'M91.22', 'perthes-disease'],
  ['M91.41', 'M91.42', 'perthes-disease'],
  ['S72.001A', 'S72.002A', 'femoral-neck-fracture'],
  ['S72.011B', 'S72.012B', 'femoral-neck-fracture'],
  ['S72.031A', 'S72.032A', 'femoral-neck-fracture'],
  ['S72.034A', 'S72.035A', 'femoral-neck-fracture'],
  ['S72.044C', 'S72.045C', 'femoral-neck-fracture'],
  ['S72.001K', 'S72.002K', 'failed-hip-fixation'],
  ['C40.21', 'C40.22', 'hip-tumor'],
  ['M84.551A', 'M84.552K', 'hip-tumor'],
  ['S72.111A', 'S72.112A', 'greater-trochanter-fracture'],
  ['S72.114A', 'S72.115A', 'greater-trochanter-fracture'],
  ['S72.114K', 'S72.115K', 'greater-trochanter-nonunion'],
  ['I69.351', 'I69.352', 'paresis'],
  ['I69.053', 'I69.054', 'paresis'],
  ['G81.91', 'G81.92', 'paresis'],
  ['G81.13', 'G81.14', 'paresis'],
  ['G83.11', 'G83.12', 'paresis'],
  ['T84.020A', 'T84.021A', 'prosthesis-dislocation'],
  ['T84.010A', 'T84.011A', 'prosthesis-breakage'],
  ['T84.030A', 'T84.031A', 'prosthesis-loosening'],
  ['T84.050A', 'T84.051A', 'periprosthetic-osteolysis'],
  ['T84.060A', 'T84.061A', 'prosthesis-wear'],
  ['T84.51XA', 'T84.52XA', 'prosthesis-infection'],
  ['M97.01XA', 'M97.02XA', 'periprosthetic-fracture'],
  ['M61.551', 'M61.552', 'heterotopic-ossification-diagnosis'],
  ['M61.251', 'M61.252', 'heterotopic-ossification-diagnosis'],
  ['S73.004A', 'S73.005A', 'native-hip-dislocation'],
  ['S73.011A', 'S73.012A', 'native-hip-dislocation'],
  ['M24.351', 'M24.352', 'native-hip-dislocation'],
  ['M24.451', 'M24.452', 'native-hip-dislocation'],
  ['M25.351', 'M25.352', 'native-hip-dislocation'],
  ['Z96.641', 'Z96.642', 'hip-prosthesis-present'],
  ['Z89.621', 'Z89.622', 'hip-explantation'],
];
const PROCEDURE_PAIRS: readonly (readonly [string, string, string])[] = [
  ['0QS604Z', '0QS704Z', 'earlier-hip-fixation'],
  ['0QH606Z', '0QH706Z', 'earlier-hip-fixation'],
  ['0Q860ZZ', '0Q870ZZ', 'hip-osteotomy'],
  ['0Q840ZZ', '0Q850ZZ', 'hip-osteotomy'],
  ['0Q820ZZ', '0Q830ZZ', 'hip-osteotomy'],
  ['0SW9XJZ', '0SWBXJZ', 'closed-reduction-of-prosthesis'],
  ['0SWAXJZ', '0SWEXJZ', 'closed-reduction-of-prosthesis'],
  ['0SWRXJZ', '0SWSXJZ', 'closed-reduction-of-prosthesis'],
  ['0SR90EZ', '0SRB0EZ', 'hip-explantation'],
  ['0SH908Z', '0SHB08Z', 'hip-explantation'],
  ['0SP908Z', '0SPB08Z', 'hip-explantation'],
  ['0KQN0ZZ', '0KQP0ZZ', 'hip-abductor-repair'],
  ['0LQJ0ZZ', '0LQK0ZZ', 'hip-abductor-repair'],
  ['0LSJ0ZZ', '0LSK0ZZ', 'hip-abductor-repair'],
  ['0KSN0ZZ', '0KSP0ZZ', 'hip-abductor-repair'],
  ['0KXN0ZZ', '0KXP0ZZ', 'hip-abductor-repair'],
];

describe('the side of a code', () => {
  const rows = [
    ...PAIRS.map((row) => ['condition', ICD, ...row] as const),
    ...PROCEDURE_PAIRS.map((row) => ['procedure', pcs, ...row] as const),
  ];

  it.each(rows)('of a %s (%s): %s is right, %s is left', (kind, system, right, left, fact) => {
    const onRight = factsOf(kind, concept(system, right));
    expect(onRight.right.present).toContain(fact);
    expect(onRight.left.present).toEqual([]);
    const onLeft = factsOf(kind, concept(system, left));
    expect(onLeft.left.present).toContain(fact);
    expect(onLeft.right.present).toEqual([]);
  });

  it('leaves the other hip clear where it leaves its own unclear', () => {
    // Truth: published titles of S76.011A, M96.662 and T84.090A.
    expect(factsOf('condition', 'S76.011A')).toMatchObject({
      right: { unclear: ['abductor-tendon-tear'] },
      left: { unclear: [] },
    });
    expect(factsOf('condition', 'M96.662')).toMatchObject({
      left: { unclear: ['periprosthetic-fracture'] },
      right: { unclear: [] },
    });
    expect(factsOf('condition', 'T84.090A')).toMatchObject({
      right: { unclear: ['prosthesis-malposition'] },
      left: { unclear: [] },
    });
  });
});

describe('a code without a place', () => {
  const sited = all.flatMap(([kind, meanings]) =>
    Object.values(meanings).flatMap(({ sited: codes, facts }) =>
      Object.keys(codes ?? {}).map((code) => [kind, code, facts[0] ?? ''] as const),
    ),
  );

  it.each(sited)('as a %s: %s means %s at a hip, and is unclear elsewhere', (kind, code, fact) => {
    // Truth: published notes of the concepts: the code has no site and needs a body site.
    const written = /^[A-Z]/.test(code) ? code : snomed(code);
    const atLeft = factsOf(kind, written, { bodySite: [snomed(CODE.leftHipSite)] });
    expect(atLeft.left.present).toEqual([fact]);
    expect(atLeft.right.present).toEqual(scopeOf(fact) === 'patient' ? [fact] : []);
    const atSomeHip = factsOf(kind, written, { bodySite: [snomed(CODE.hipSite)] });
    expect(atSomeHip.left.present).toEqual([fact]);
    for (const bodySite of [undefined, [snomed('72696002')], [{ text: 'hip' }]]) {
      const elsewhere = factsOf(kind, written, bodySite === undefined ? {} : { bodySite });
      expect(elsewhere.left).toEqual({ present: [], unclear: [fact] });
    }
  });
});

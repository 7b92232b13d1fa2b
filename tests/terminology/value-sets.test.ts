import { describe, expect, it } from 'vitest';
import {
  icd,
  snomed,
  loinc,
  pcs,
  dicom,
  main,
  overlay,
  published,
  april2026,
  ownDiagnoses,
  read,
  key,
  publishedByKey,
  parts,
  exactCodes,
  prefixes,
  plain,
  mainSet,
  snomedSides,
  type Part,
  type ValueSet,
} from './terminology-files.js';

const fits = (part: Part, code: string): boolean =>
  (part.concept ?? []).some((concept) => plain(concept.code) === plain(code)) ||
  ((part.filter?.length ?? 0) > 0 &&
    (part.filter ?? []).every((filter) => plain(code).startsWith(plain(filter.value))));
/** Membership of an ICD-10-CM code, as the README of the value sets describes it. */
const holdsIcd = (set: ValueSet, code: string): boolean => {
  const inAny = (list: readonly Part[] | undefined) =>
    (list ?? []).some((part) => part.system === icd && fits(part, code));
  return inAny(set.compose?.include) && !inAny(set.compose?.exclude);
};
/** Verhoeff check of an identifier whose last digit is the check digit. */
const passesVerhoeff = (id: string): boolean => {
  const dihedral = (a: number, b: number): number => {
    const rotation = a < 5 ? (a + b) % 5 : (a - b + 5) % 5;
    return a < 5 === b < 5 ? rotation : rotation + 5;
  };
  const permutation = [1, 5, 7, 6, 2, 8, 3, 0, 9, 4];
  const permute = (digit: number, times: number): number =>
    times === 0 ? digit : permute(permutation[digit] ?? Number.NaN, times - 1);
  const digits = Array.from(id, Number).reverse();
  return digits.reduce((sum, digit, place) => dihedral(sum, permute(digit, place % 8)), 0) === 0;
};

/** Mod 10 (Luhn) check of a LOINC code, number-digit. */
const passesMod10 = (code: string): boolean => {
  const [number = '', check = ''] = code.split('-');
  const sum = Array.from(number, Number)
    .reverse()
    .reduce((total, digit, place) => {
      const doubled = digit * (place % 2 === 0 ? 2 : 1);
      return total + (doubled > 9 ? doubled - 9 : doubled);
    }, 0);
  return (10 - (sum % 10)) % 10 === Number(check);
};

describe('value sets', () => {
  it('name each file by its id and end each address with it', () => {
    for (const { file, set } of main) {
      expect(set.id).toBe(file);
      expect(set.url).toBe(`https://kotyle.example/fhir/ValueSet/${file}`);
    }
    for (const { file, set } of overlay) {
      expect(set.id).toBe(`${file}-snomed-overlay`);
      expect(set.url).toBe(`https://kotyle.example/fhir/ValueSet/${file}-snomed-overlay`);
    }
  });

  it('are draft, experimental FHIR value sets with a name in PascalCase', () => {
    for (const { set } of [...main, ...overlay]) {
      expect(set.resourceType).toBe('ValueSet');
      expect(set.status).toBe('draft');
      expect(set.experimental).toBe(true);
      expect(set.name).toBe(set.id.replace(/(?:^|-)(.)/g, (_, letter: string) => letter.toUpperCase()));
    }
  });

  it('hold only codes that were read in a public source, with the term as read', () => {
    const seen = [...main, ...overlay]
      .flatMap(({ set }) => exactCodes(set))
      .filter(({ system }) => system !== ownDiagnoses);
    expect(seen.length).toBeGreaterThan(150);
    for (const { system, code, display } of seen) {
      const copy = publishedByKey.get(key(system, code));
      expect(copy?.verified, code).toBe('seen');
      if (copy?.display !== undefined) expect(display).toBe(copy.display);
    }
  });

  it('hold of our own codes those of the code system of diagnoses, each in one set, with its display', () => {
    const own = main.flatMap(({ set }) =>
      exactCodes(set)
        .filter(({ system }) => system === ownDiagnoses)
        .map(({ code, display }) => ({ code, display })),
    );
    const { concept } = read('rules', 'code-systems', 'hip-diagnosis.json') as {
      readonly concept: readonly { readonly code: string; readonly display: string }[];
    };
    expect(own).toEqual(concept.map(({ code, display }) => ({ code, display })));
  });

  it('never give a prefix as an exact code or an exact code as a prefix', () => {
    const marked = (code: string) =>
      published.filter((copy) => copy.code === code).map((copy) => copy.is_prefix);
    for (const { set } of main) {
      for (const { system, code } of exactCodes(set))
        if (system !== ownDiagnoses) expect(marked(code), code).toContain(false);
      for (const prefix of prefixes(set)) expect(marked(prefix), prefix).toContain(true);
    }
  });

  it('give every prefix an include of its own, on ICD-10-CM and ICD-10-PCS only', () => {
    const filtered = [...main, ...overlay].flatMap(({ set }) => parts(set)).filter((part) => part.filter);
    expect(filtered.length).toBeGreaterThan(40);
    for (const part of filtered) {
      expect([icd, pcs]).toContain(part.system);
      expect(part.concept).toBeUndefined();
      expect(part.filter).toHaveLength(1);
      expect(part.filter?.[0]).toMatchObject({ property: 'concept', op: 'is-a' });
    }
  });

  it('use prefixes that have codes below them or are listed as categories', () => {
    const listed = published.filter(({ system }) => system === icd || system === pcs);
    const known = [...april2026, ...listed.map(({ code }) => code)];
    for (const { set } of main) {
      for (const prefix of prefixes(set)) {
        expect(
          known.some((code) => plain(code).startsWith(plain(prefix))),
          prefix,
        ).toBe(true);
      }
    }
  });

  it('never include a whole code system', () => {
    for (const { set } of [...main, ...overlay]) {
      for (const part of parts(set)) {
        const named = (part.concept?.length ?? 0) + (part.filter?.length ?? 0) + (part.valueSet?.length ?? 0);
        expect(named, set.id).toBeGreaterThan(0);
      }
    }
  });

  it('are without codes of their own only where their description says why', () => {
    const empty = main.filter(({ set }) => set.compose === undefined).map(({ file }) => file);
    expect(empty).toEqual([
      'abductor-tendon-tear',
      'heterotopic-ossification-site-unstated',
      'hip-replacement-planned',
      'pelvic-irradiation',
      'periprosthetic-fracture-joint-unstated',
      'periprosthetic-osteolysis-joint-unstated',
      'prosthesis-malposition',
      'prosthesis-recurrent-dislocation',
      'prosthesis-wear-joint-unstated',
      'superior-gluteal-nerve-injury',
      'total-hip-conversion',
      'trendelenburg-gait',
    ]);
    for (const file of empty)
      expect(mainSet(file).description).toMatch(/this set is empty|the set is empty|no codes of its own/);
  });

  it('exclude only value sets that exist', () => {
    const known = main.map(({ set }) => set.url);
    const named = main.flatMap(({ set }) => parts(set).flatMap((part) => part.valueSet ?? []));
    expect(named).toContain('https://kotyle.example/fhir/ValueSet/stroke-history-no-deficit');
    for (const url of named) expect(known).toContain(url);
  });
});

describe('check digits', () => {
  it('reject a changed digit and two swapped digits', () => {
    expect(passesVerhoeff('52734007')).toBe(true);
    expect(passesVerhoeff('52734008')).toBe(false);
    expect(passesVerhoeff('57234007')).toBe(false);
    expect(passesVerhoeff('12202181000119100')).toBe(false);
    expect(passesMod10('39156-5')).toBe(true);
    expect(passesMod10('39165-5')).toBe(false);
  });

  it('hold for every SNOMED CT identifier in the value sets and the laterality table', () => {
    const ids = [
      ...[...main, ...overlay]
        .flatMap(({ set }) => exactCodes(set))
        .filter(({ system }) => system === snomed),
    ].map(({ code }) => code);
    const sided = [snomedSides.sidedCodes, snomedSides.sidedSites, snomedSides.sides].flatMap(Object.keys);
    expect(ids.length).toBeGreaterThan(100);
    for (const id of [...ids, ...sided, ...snomedSides.hipSites]) expect(passesVerhoeff(id), id).toBe(true);
  });

  it('hold for every LOINC code', () => {
    const codes = main.flatMap(({ set }) => exactCodes(set)).filter(({ system }) => system === loinc);
    expect(codes.length).toBeGreaterThanOrEqual(13);
    for (const { code } of codes) expect(passesMod10(code), code).toBe(true);
  });
});

describe('licences', () => {
  const isFree = (code: string): boolean =>
    /^SNOMED (?:GPS|IPS)/.test(publishedByKey.get(key(snomed, code))?.source ?? '');

  it('keep the main files to SNOMED CT codes of the two free subsets', () => {
    const codes = main.flatMap(({ set }) => exactCodes(set)).filter(({ system }) => system === snomed);
    expect(codes.length).toBeGreaterThan(40);
    for (const { code } of codes) expect(isFree(code), code).toBe(true);
  });

  it('keep the overlay to SNOMED CT codes outside the two free subsets', () => {
    for (const { set } of overlay) {
      for (const { system, code } of exactCodes(set)) {
        expect(system).toBe(snomed);
        expect(isFree(code), code).toBe(false);
      }
    }
  });

  it('give every overlay a main file, a licence notice and a label for each code', () => {
    for (const { file, set } of overlay) {
      expect(mainSet(file).id).toBe(file);
      expect(set.copyright).toContain('Affiliate licence');
      for (const { display } of exactCodes(set)) expect(display).toMatch(/^[A-Z]/);
    }
  });

  it('never carry the term of a code outside the free subsets in the published copy', () => {
    for (const copy of published.filter(({ system }) => system === snomed)) {
      expect(copy.display === undefined, copy.code).toBe(!isFree(copy.code));
    }
  });

  it('put the LOINC notice on every value set with LOINC codes', () => {
    const sets = main.filter(({ set }) => parts(set).some(({ system }) => system === loinc));
    expect(sets.length).toBeGreaterThanOrEqual(8);
    for (const { file, set } of sets) {
      expect(set.copyright, file).toContain('This material contains content from LOINC (http://loinc.org)');
      expect(set.copyright, file).toContain('http://loinc.org/license');
      expect(set.copyright, file).toContain('Regenstrief Institute, Inc.');
    }
  });

  it('name the owner on every value set with codes of a system', () => {
    const owner: Readonly<Record<string, string>> = {
      [icd]: 'National Center for Health Statistics',
      [snomed]: 'SNOMED International',
      [loinc]: 'Regenstrief',
      [pcs]: 'Centers for Medicare & Medicaid Services',
      [dicom]: 'National Electrical Manufacturers Association',
      [ownDiagnoses]: 'Kotyle project',
    };
    for (const { set } of [...main, ...overlay]) {
      for (const part of set.compose?.include ?? []) {
        expect(set.copyright, set.id).toContain(owner[part.system ?? ''] ?? 'unknown system');
      }
    }
  });
});

describe('codes that misfire', () => {
  const setsWith = (code: string): string[] =>
    main.filter(({ set }) => holdsIcd(set, code)).map(({ file }) => file);
  /** The sets that hold an ICD-10-PCS code. */
  const holding = (code: string): string[] =>
    main
      .filter(({ set }) => parts(set).some((part) => part.system === pcs && fits(part, code)))
      .map(({ file }) => file);

  it('keep the knees of T84.02- out of every set', () => {
    expect(setsWith('T84.020A')).toEqual(['prosthesis-dislocation', 'prosthesis-instability']);
    expect(setsWith('T84.021D')).toEqual(['prosthesis-dislocation', 'prosthesis-instability']);
    expect(setsWith('T84.022')).toEqual([]);
    expect(setsWith('T84.023A')).toEqual([]);
    expect(setsWith('T84.029')).toEqual([]);
  });

  it('read Z98.1 as a fusion of an unstated joint only', () => {
    expect(setsWith('Z98.1')).toEqual(['fusion-site-unclear']);
  });

  it('read Z92.3 as irradiation of an unstated site only', () => {
    expect(setsWith('Z92.3')).toEqual(['irradiation-site-unclear']);
  });

  it('keep a past stroke without deficit out of paresis', () => {
    expect(setsWith('Z86.73')).toEqual(['stroke-history-no-deficit']);
    expect(setsWith('I69.351')).toEqual(['paresis']);
  });

  it('keep alcohol use in remission, and use that is no disorder, out of alcohol use disorder', () => {
    for (const code of ['F10.11', 'F10.21', 'F10.91'])
      expect(setsWith(code)).toEqual(['alcohol-use-disorder-remission']);
    expect(setsWith('F10.20')).toEqual(['alcohol-use-disorder']);
    expect(setsWith('F10.920')).toEqual([]);
  });

  it('tell Parkinson disease from parkinsonism of unstated cause', () => {
    for (const code of ['G20', 'G20.A1', 'G20.B2']) expect(setsWith(code)).toEqual(['parkinson-disease']);
    expect(setsWith('G20.C')).toEqual([]);
  });

  it('cover both the old and the split codes of multiple sclerosis', () => {
    for (const code of ['G35', 'G35.A', 'G35.B0', 'G35.D'])
      expect(setsWith(code)).toEqual(['multiple-sclerosis']);
  });

  it('keep axial disease without radiographic change out of the stiff spine', () => {
    expect(setsWith('M45.6')).toEqual(['spine-ankylosis']);
    expect(setsWith('M45.A6')).toEqual([]);
  });

  it('take only the lumbar and lumbosacral region for lumbar fusion', () => {
    const lumbar = ['0', '1', '2', '3', '4', '5', '6', '7', '8'].filter((region) =>
      holdsIcd(mainSet('lumbar-fusion'), `M43.2${region}`),
    );
    expect(lumbar).toEqual(['6', '7']);
  });

  it('keep the pelvis out of osteonecrosis of the femoral head', () => {
    for (const code of ['M87.050', 'M87.150', 'M87.250', 'M87.350', 'M87.850'])
      expect(setsWith(code)).toEqual([]);
    expect(setsWith('M87.256')).toEqual(['femoral-head-osteonecrosis']);
  });

  it('keep fractures of the femoral head and of the epiphysis out of the neck', () => {
    for (const code of ['S72.021A', 'S72.051A', 'S72.061A']) expect(setsWith(code)).toEqual([]);
    expect(setsWith('S72.041A')).toEqual(['femoral-neck-fracture']);
  });

  it('keep premenstrual dysphoric disorder out of depression', () => {
    expect(setsWith('F32.81')).toEqual([]);
    expect(setsWith('F32.89')).toEqual(['depression']);
  });

  it('match codes written without a dot', () => {
    expect(setsWith('T84020A')).toEqual(['prosthesis-dislocation', 'prosthesis-instability']);
    expect(setsWith('z96641')).toEqual(['hip-prosthesis-present']);
  });

  it('take no removal of a prosthesis for a revision by itself, and no reduction for an operation', () => {
    // Truth: published notes of the codes: an exchange is removal plus replacement; external revision is a reduction.
    expect(holding('0SP90JZ')).toEqual(['hip-prosthesis-removal']);
    expect(holding('0SW90JZ')).toEqual(['total-hip-revision']);
    expect(holding('0SW9XJZ')).toEqual(['closed-reduction-of-prosthesis']);
    expect(holding('0SS9XZZ')).toEqual(['hip-closed-reduction']);
    expect(holding('0SR90EZ')).toEqual(['hip-explantation-or-spacer']);
    expect(holding('0SR9019')).toEqual(['total-hip-primary']);
    for (const tissue of ['0SR907Z', '0SR90KZ']) expect(holding(tissue)).toEqual([]);
  });

  it('keep the sacroiliac joint out of lumbar fusion and the femur out of the pelvis', () => {
    expect(holding('0SG7074')).toEqual([]);
    expect(holding('0SG0070')).toEqual(['lumbar-spinal-fusion']);
    expect(holding('DP09')).toEqual(['irradiation-site-unclear']);
    expect(holding('DW06')).toEqual(['pelvic-radiotherapy']);
  });

  it('place a conversion from a total prosthesis with the revisions and nowhere else', () => {
    for (const code of ['447947007', '1290059002']) {
      const where = overlay.filter(({ set }) => exactCodes(set).some((listed) => listed.code === code));
      expect(where.map(({ file }) => file)).toEqual(['total-hip-revision']);
    }
  });

  it('leave out the SNOMED CT codes that name no hip, and identifiers read without their own term', () => {
    const all = [...main, ...overlay].flatMap(({ set }) => exactCodes(set)).map(({ code }) => code);
    for (const code of ['213082003', '302941001', '57182000', '68449006']) expect(all).not.toContain(code);
    for (const code of ['15739006', '240241003', '85551004']) expect(all).not.toContain(code);
    for (const code of ['34106002', '86263001', '278088004']) expect(all).not.toContain(code);
  });

  it('keep codes without a place, and codes too vague, apart from the codes that mean it', () => {
    const alone: Readonly<Record<string, string>> = {
      '150062003': 'osteotomy-site-unstated',
      '57470004': 'femur-fixation-site-unstated',
      '33195004': 'radiotherapy-site-unstated',
      '55705006': 'fusion-site-unclear',
      '213121005': 'prosthesis-infection-joint-unstated',
      '441698009': 'periprosthetic-osteolysis-joint-unstated',
      '441565006': 'prosthesis-wear-joint-unstated',
      '441546003': 'periprosthetic-fracture-joint-unstated',
      '444748003': 'heterotopic-ossification-site-unstated',
      '726218003': 'hip-muscle-injury-unclear',
      '16973004': 'gait-abnormality-unclear',
    };
    for (const [code, id] of Object.entries(alone)) {
      const where = [...main, ...overlay].filter(({ set }) =>
        exactCodes(set).some((each) => each.code === code),
      );
      expect(
        where.map(({ file }) => file),
        code,
      ).toEqual([id]);
    }
  });
});

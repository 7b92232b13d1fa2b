import { describe, expect, it } from 'vitest';
import {
  icd,
  snomed,
  read,
  main,
  overlay,
  published,
  april2026,
  april2025,
  pcs,
  key,
  publishedByKey,
  exactCodes,
  plain,
  sideNamedBy,
  sideOf,
  snomedSides,
  type Side,
} from './terminology-files.js';

type Family = { readonly prefix: string; readonly source: string } & (
  | { readonly position: number; readonly sides: Readonly<Record<string, Side>> }
  | { readonly codes: Readonly<Record<string, Side>> }
);

const familiesOf = (system: string): readonly Family[] =>
  (read('rules', 'code-systems', `laterality-${system}.json`) as { readonly families: readonly Family[] })
    .families;
const families = familiesOf('icd-10-cm');
const pcsFamilies = familiesOf('icd-10-pcs');
/** The side a code states by a family table: longest prefix wins. */
const sideBy = (code: string, table: readonly Family[]): Side | undefined => {
  const [family] = table
    .filter(({ prefix }) => plain(code).startsWith(plain(prefix)))
    .sort((a, b) => plain(b.prefix).length - plain(a.prefix).length);
  if (family === undefined) return undefined;
  if ('codes' in family) {
    return Object.entries(family.codes).find(([listed]) => plain(listed) === plain(code))?.[1];
  }
  return family.sides[plain(code).charAt(family.position - 1)];
};
const icdSide = (code: string): Side | undefined => sideBy(code, families);
describe('laterality', () => {
  it('reads the ICD-10-CM side that the published title names', () => {
    const titled = published.filter((copy) => copy.system === icd && !copy.is_prefix);
    expect(titled.filter((copy) => sideOf(copy) !== undefined).length).toBeGreaterThan(25);
    for (const copy of titled) expect(icdSide(copy.code), copy.code).toBe(sideOf(copy));
  });

  it('reads the side of a category whose title names one', () => {
    const categories = published.filter((copy) => copy.system === icd && copy.is_prefix && sideOf(copy));
    const codes = [...new Set(categories.map(({ code }) => code))];
    expect(codes).toEqual(
      expect.arrayContaining(['T84.020', 'T84.021', 'T84.090', 'T84.091', 'M97.01', 'M97.02']),
    );
    for (const copy of categories) expect(icdSide(copy.code), copy.code).toBe(sideOf(copy));
  });

  it('reads the side that the title of a billable code names', () => {
    expect(Object.keys(april2025).length).toBeGreaterThan(40);
    for (const [code, title] of Object.entries(april2025))
      expect(icdSide(code), code).toBe(sideNamedBy(title));
  });

  it('lists exactly the SNOMED CT codes of the value sets whose published term names a side', () => {
    const codes = [...main, ...overlay]
      .flatMap(({ set }) => exactCodes(set))
      .filter(({ system }) => system === snomed);
    const expected = codes.flatMap(({ code }) => {
      const copy = publishedByKey.get(key(snomed, code));
      const side = copy === undefined ? undefined : sideOf(copy);
      return side === undefined ? [] : [[code, side] as const];
    });
    expect(expected.length).toBeGreaterThan(20);
    expect(snomedSides.sidedCodes).toEqual(Object.fromEntries(expected));
  });

  it('gives a label of the overlay the same side as the code', () => {
    for (const { set } of overlay) {
      for (const { code, display } of exactCodes(set)) {
        expect(sideNamedBy(display ?? ''), code).toBe(snomedSides.sidedCodes[code]);
      }
    }
  });

  it('reads the sides of body sites and qualifiers as published', () => {
    for (const [code, side] of Object.entries({ ...snomedSides.sidedSites, ...snomedSides.sides })) {
      const copy = publishedByKey.get(key(snomed, code));
      const stated =
        copy?.display === 'Right and left (qualifier value)' ? 'bilateral' : copy && sideOf(copy);
      expect(stated, code).toBe(side);
    }
    for (const code of snomedSides.hipSites) {
      expect(publishedByKey.get(key(snomed, code))?.display).toMatch(/^Hip (?:joint|region) structure/);
    }
  });

  // Typed by hand from the code titles, independently of the rule file: [right, left, both, codes without a side].
  const spots: Readonly<Record<string, readonly [string[], string[], string[], string[]]>> = {
    'T84.0- hip': [
      ['T84.020A', 'T84.030D'],
      ['T84.021A', 'T84.061S'],
      [],
      ['T84.022A', 'T84.023A', 'T84.029A'],
    ],
    'T84.5-': [['T84.51XA'], ['T84.52XA'], [], ['T84.50XA', 'T84.53XA', 'T84.54XA']],
    'M97.0-': [['M97.01XA'], ['M97.02XD'], [], ['M97.11XA']],
    'Z96.64-': [['Z96.641'], ['Z96.642'], ['Z96.643'], ['Z96.649', 'Z96.651']],
    M16: [
      ['M16.11', 'M16.31', 'M16.51'],
      ['M16.12', 'M16.32', 'M16.52'],
      ['M16.0', 'M16.2', 'M16.4', 'M16.6'],
      ['M16.10', 'M16.30', 'M16.50', 'M16.7', 'M16.9'],
    ],
    'M87.05-, .15-, .85-': [
      ['M87.051', 'M87.151', 'M87.851'],
      ['M87.052', 'M87.152', 'M87.852'],
      [],
      ['M87.050', 'M87.059', 'M87.159', 'M87.859'],
    ],
    'M87.25-': [['M87.251'], ['M87.252'], [], ['M87.250', 'M87.256']],
    'M87.35-': [['M87.351'], ['M87.352'], [], ['M87.350', 'M87.353']],
    'M90.55-': [['M90.551'], ['M90.552'], [], ['M90.559']],
    'M93.0-': [
      ['M93.001', 'M93.041'],
      ['M93.022', 'M93.062'],
      ['M93.004', 'M93.074'],
      ['M93.003', 'M93.013'],
    ],
    Q65: [
      ['Q65.01', 'Q65.31'],
      ['Q65.02', 'Q65.32'],
      ['Q65.1', 'Q65.4'],
      ['Q65.00', 'Q65.2', 'Q65.30', 'Q65.89', 'Q65.9'],
    ],
    'S72.00-, .01-, .05-': [
      ['S72.001A', 'S72.011K', 'S72.051A'],
      ['S72.002K', 'S72.012A', 'S72.052A'],
      [],
      ['S72.009A', 'S72.019A', 'S72.059A'],
    ],
    'S72.03-, .04-': [
      ['S72.031A', 'S72.034K', 'S72.044A'],
      ['S72.032A', 'S72.035K', 'S72.045A'],
      [],
      ['S72.033A', 'S72.036A', 'S72.046A'],
    ],
    'S72.11-': [['S72.111K', 'S72.114K'], ['S72.112K', 'S72.115K'], [], ['S72.113K', 'S72.116K']],
    'S73.0-': [['S73.001A', 'S73.014A'], ['S73.002A', 'S73.015A'], [], ['S73.003A', 'S73.006A']],
    'G57.0-, G57.8-': [
      ['G57.01', 'G57.81'],
      ['G57.02', 'G57.82'],
      ['G57.03', 'G57.83'],
      ['G57.00', 'G57.80'],
    ],
    'C40.2-, M84.55-': [
      ['C40.21', 'M84.551A'],
      ['C40.22', 'M84.552K'],
      [],
      ['C40.20', 'C40.31', 'C41.4', 'C79.51', 'M84.550A', 'M84.553A', 'M84.559S'],
    ],
    'other bones and joints': [
      ['S74.8X1A', 'M24.451', 'M25.351', 'M76.01', 'M21.751'],
      ['S74.8X2A', 'M24.452', 'M25.352', 'M76.02', 'M21.752'],
      [],
      ['S74.8X9A', 'M24.459', 'M25.359', 'M76.00', 'M21.759', 'M21.763'],
    ],
    'I69.-5-, G81, G83.1-': [
      ['I69.351', 'I69.053', 'G81.91', 'G81.03', 'G83.11', 'G83.13'],
      ['I69.352', 'I69.954', 'G81.92', 'G81.14', 'G83.12', 'G83.14'],
      [],
      ['I69.359', 'G81.90', 'G83.10', 'G82.21', 'I69.311'],
    ],
  };

  it.each(Object.entries(spots))('reads the sides of %s', (_, [right, left, both, none]) => {
    for (const code of right) expect(icdSide(code), code).toBe('right');
    for (const code of left) expect(icdSide(code), code).toBe('left');
    for (const code of both) expect(icdSide(code), code).toBe('bilateral');
    for (const code of none) expect(icdSide(code), code).toBeUndefined();
  });

  it('reads the same side without the dot and in lower case', () => {
    expect(icdSide('t84021a')).toBe('left');
    expect(icdSide('M1611')).toBe('right');
  });

  it('gives each side a partner and each family a source, once', () => {
    expect(new Set(families.map(({ prefix }) => prefix)).size).toBe(families.length);
    for (const family of families) {
      const sides = Object.values('codes' in family ? family.codes : family.sides);
      expect(sides.filter((side) => side === 'left').length).toBe(
        sides.filter((side) => side === 'right').length,
      );
      expect(sides).toContain('left');
      expect(family.source).toMatch(/^ICD-10-CM, /);
    }
  });

  it('uses only digits that exist in the list of April 2026', () => {
    const checked = families.flatMap((family) => {
      if ('codes' in family) return [];
      const below = april2026.map(plain).filter((code) => code.startsWith(plain(family.prefix)));
      if (below.length === 0) return [];
      const digits = new Set(below.map((code) => code.charAt(family.position - 1)));
      for (const digit of Object.keys(family.sides)) expect(digits, family.prefix).toContain(digit);
      return [family.prefix];
    });
    expect(checked).toEqual(expect.arrayContaining(['M87.25', 'M87.35', 'M93.0', 'M97.0', 'G81', 'Z96.64']));
  });

  describe('of ICD-10-PCS', () => {
    const titled = published.filter((copy) => copy.system === pcs && sideOf(copy) !== undefined);
    // The sacroiliac joint and its side are no matter of a hip.
    const ofHips = titled.filter(({ code }) => !/^0SG[78]/.test(code));

    it('is read from the body part as published, for every code and category whose title names one', () => {
      expect(ofHips.length).toBeGreaterThan(80);
      for (const copy of ofHips) expect(sideBy(copy.code, pcsFamilies), copy.code).toBe(sideOf(copy));
    });

    it('lists no body part that was not read under that root operation', () => {
      const seen = new Set(ofHips.map(({ code }) => code.slice(0, 4)));
      const listed = pcsFamilies.flatMap((family) =>
        'sides' in family ? Object.keys(family.sides).map((part) => family.prefix + part) : [],
      );
      expect([...seen].sort()).toEqual(listed.sort());
    });

    it('is unknown for what is not listed: acetabular surface replaced, lumbar spine, pelvis', () => {
      for (const code of ['0SRA0JZ', '0SRE0JZ', '0SG00A0', '0SG7074', 'DW06', '0RGA070']) {
        expect(sideBy(code, pcsFamilies), code).toBeUndefined();
      }
    });

    it('gives each side a partner and each family a source, once', () => {
      expect(new Set(pcsFamilies.map(({ prefix }) => prefix)).size).toBe(pcsFamilies.length);
      for (const family of pcsFamilies) {
        const sides = Object.values('sides' in family ? family.sides : {});
        expect(sides.filter((side) => side === 'left').length).toBe(
          sides.filter((side) => side === 'right').length,
        );
        expect(family.source).toMatch(/^ICD-10-PCS, /);
      }
    });
  });
});

import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import populationJson from '../../../fixtures/synthetic/population.json' with { type: 'json' };
import { populationSchema } from '../../../src/workbench/synthesize/population-schema.js';
import { POPULATION } from '../../../src/workbench/synthesize/population.js';

interface EvidenceRecord {
  readonly id: string;
  readonly verified: string;
  readonly n: number | null;
}

const read = (path: string): unknown =>
  JSON.parse(readFileSync(new URL(`../../../${path}`, import.meta.url), 'utf8'));
const records = new Map(
  ['records', 'population-records']
    .flatMap((name) => read(`tests/published/evidence/${name}.json`) as readonly EvidenceRecord[])
    .map((record) => [record.id, record]),
);

interface Leaf {
  readonly path: string;
  readonly value?: number;
  readonly mean?: number;
  readonly sd?: number;
  readonly sdPrinted?: number;
  readonly sdReadAt?: string;
  readonly shares?: Readonly<Record<string, number>>;
  readonly n?: number;
  readonly records: readonly string[];
  readonly readAt: string;
}

/** Every number of the file with its path. */
function leavesOf(node: object, path = ''): readonly Leaf[] {
  if ('readAt' in node) return [{ path, ...node } as Leaf];
  return Object.entries(node).flatMap(([name, member]: [string, unknown]) =>
    typeof member === 'object' && member !== null && !Array.isArray(member)
      ? leavesOf(member, path === '' ? name : `${path}.${name}`)
      : [],
  );
}

const leaves = leavesOf(POPULATION);
const sourced = leaves.filter((leaf) => leaf.records.length > 0);

/** All numbers printed in the records of a leaf; thousands may have a comma. */
function printed(leaf: Leaf): readonly number[] {
  const text = leaf.records.map((id) => JSON.stringify(records.get(id))).join(' ');
  const numbers = text.match(/-?\d+(?:,\d{3})*(?:\.\d+)?/g) ?? [];
  return [...new Set(numbers.map((number) => Math.abs(Number(number.replaceAll(',', '')))))];
}

const isNear = (a: number, b: number): boolean => Math.abs(a - b) <= 1e-9 + 5e-5 * Math.abs(b);

/** A figure is printed as it is or in percent; a share may also be a printed count, or two together, among n. */
function isPrinted(value: number, leaf: Leaf): boolean {
  const numbers = printed(leaf);
  const size = Math.abs(value);
  if (numbers.some((number) => isNear(number, size) || isNear(number, size * 100))) return true;
  const { n } = leaf;
  if (n === undefined) return false;
  const hasTotal = numbers.includes(n) || numbers.some((a) => numbers.some((b) => a !== b && a + b === n));
  const isShare = (count: number): boolean => Math.abs(count / n - size) < 5e-5 + 5e-4 * size;
  return (
    hasTotal && (numbers.some(isShare) || numbers.some((a) => numbers.some((b) => a < b && isShare(a + b))))
  );
}

/** Figures that follow from print by one step of reckoning. */
const RECKONED: Readonly<
  Record<string, { readonly from: number; readonly by: (printed: number) => number }>
> = {
  // An r2 of 0.15.
  'spine.slopeLostWithLumbarFlexion': { from: 0.15, by: (r2) => Math.sqrt(r2) },
  // 4.5 degrees lost per decade.
  'spine.lumbarFlexionFromAge': { from: 4.5, by: (perDecade) => -perDecade / 10 },
  // 8 o'clock on a right hip: 240 degrees of azimuth, counted the other way as a position.
  'plan.elevationPosition': { from: 8, by: (clock) => 360 - 30 * clock },
  // 17.9 and 3.71 % of the two kinds of type II.
  'femur.iliacSpine.II': { from: 17.9, by: (kindA) => (kindA + 3.71) / 100 },
  // 82,557 of 677,665.
  'comorbidity.depression': { from: 82_557, by: (count) => count / 677_665 },
  // 20 of 159 + 20 and 9 of 42 + 9.
  'operation.absentAbductorsAtRevision': { from: 20, by: (count) => (count + 9) / 230 },
};

/** The figures of a leaf with their own paths; a spread of another origin is no figure of the record. */
function figures(leaf: Leaf): readonly (readonly [path: string, value: number])[] {
  return [
    ...(leaf.value === undefined ? [] : [[leaf.path, leaf.value] as const]),
    ...(leaf.mean === undefined ? [] : [[`${leaf.path}.mean`, leaf.mean] as const]),
    ...(leaf.sd === undefined || leaf.sdReadAt !== undefined
      ? []
      : [[`${leaf.path}.sd`, leaf.sdPrinted ?? leaf.sd] as const]),
    ...Object.entries(leaf.shares ?? {}).map(([name, value]) => [`${leaf.path}.${name}`, value] as const),
  ];
}

describe('the numbers hips are drawn from', () => {
  it('say of each whether it was read, and where, or that it is a proposal', () => {
    expect(leaves.length).toBeGreaterThan(120);
    expect(sourced.length).toBeGreaterThan(60);
    const unsaid = leaves.filter(
      ({ readAt, records: named }) => (named.length === 0) !== /proposal|no source/.test(readAt),
    );
    expect(unsaid.map(({ path }) => path)).toEqual([]);
  });

  // Truth: published, the evidence records.
  it.each(sourced.map((leaf) => [leaf.path, leaf] as const))(
    '%s stands in its records as it is',
    (_path, leaf) => {
      const named = leaf.records.map((id) => records.get(id));
      expect(named).not.toContain(undefined);
      expect(named.map((record) => record?.verified)).toContain(leaf.readAt);
      for (const [path, value] of figures(leaf)) {
        const reckoned = RECKONED[path];
        if (reckoned) {
          expect(printed(leaf), path).toContain(reckoned.from);
          expect(value, path).toBeCloseTo(reckoned.by(reckoned.from), 3);
        } else expect(isPrinted(value, leaf), `${path}: ${value}`).toBe(true);
      }
    },
  );

  it('claim no more people than their records have', () => {
    const known = sourced.filter(({ n, records: [first = ''] }) => n !== undefined && records.get(first)?.n);
    expect(known.length).toBeGreaterThan(40);
    const claiming = known.filter(
      ({ n = 0, records: named }) => !named.some((id) => n <= (records.get(id)?.n ?? 0)),
    );
    expect(claiming.map(({ path }) => path)).toEqual([]);
  });

  it('have shares that add up to one, or leave room for what is named beside them', () => {
    for (const { path, shares } of leaves) {
      if (!shares) continue;
      const sum = Object.values(shares).reduce((total, share) => total + share, 0);
      if (path === 'operation.otherIndications') expect(sum).toBeLessThan(1);
      else expect(sum, path).toBeCloseTo(1, 3);
    }
  });

  it('keep to the plausible limits of the rulebook', () => {
    // Truth: the rulebook refuses what lies outside.
    const { parameters } = read('rules/computations/plausible-ranges.json') as {
      readonly parameters: readonly { readonly id: string; readonly value: unknown }[];
    };
    for (const [name, limits] of Object.entries(POPULATION.limits))
      expect(limits, name).toEqual(parameters.find(({ id }) => id === `plausible-${name}`)?.value);
  });

  it('are refused without their source, with a source for a proposal, and with a name nobody knows', () => {
    const { patient, operation } = POPULATION;
    const changed = [
      { ...populationJson, operation: { ...operation, revision: { ...operation.revision, records: [] } } },
      { ...populationJson, patient: { ...patient, female: { ...patient.female, records: ['some-record'] } } },
      { ...populationJson, patient: { ...patient, shoeSize: patient.age } },
    ];
    for (const population of changed) expect(populationSchema.safeParse(population).success).toBe(false);
    expect(populationSchema.safeParse(populationJson).success).toBe(true);
  });
});

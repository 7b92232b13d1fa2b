import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { SERVICES } from '../../src/advice/index.js';
import type { Advisory } from '../../src/engine/evaluate.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { everyCarrier } from './every-carrier.js';
import { answerFor, mapEntries, measureCode, rulebook, testPatients } from './patients.js';

/**
 * Information is monotone: taking away all values of one measure never moves a clinical rule between "fires" and
 * "does not fire"; it stays, or becomes "cannot tell" and names what is missing. Identity, side and data rules judge
 * what was recorded.
 */

/** Liner geometry and neck-shaft angle belong to the model: an outcome may rest on their defaults. */
const MODEL: ReadonlySet<string> = new Set([
  'liner-type',
  'mobile-liner-diameter',
  'head-center-offset',
  'neck-shaft-angle',
]);

const CLINICAL: ReadonlySet<string> = new Set(
  rulebook.rules.filter(({ type }) => type === 'clinical').map(({ id }) => id),
);

function without(bundle: JsonObject, measure: string): JsonObject {
  return mapEntries(bundle, (resource) => (measureCode(resource) === measure ? undefined : resource));
}

function byRule(advisories: readonly Advisory[]): ReadonlyMap<string, Advisory> {
  return new Map(
    advisories.map((advisory) => [`${advisory.hip} ${advisory.construct} ${advisory.rule}`, advisory]),
  );
}

/** A record without any statement of one measure, whatever carries it. */
function withoutEverywhere(bundle: JsonObject, measure: string): JsonObject {
  const isAbout = (member: string) => (part: JsonObject) => codeOf(part[member]) === measure;
  return mapEntries(without(bundle, measure), (resource) => {
    switch (resource['resourceType']) {
      case 'DeviceRequest':
        return {
          ...resource,
          parameter: partsOf(resource, 'parameter').filter((part) => !isAbout('code')(part)),
        };
      case 'Device':
        return {
          ...resource,
          property: partsOf(resource, 'property').filter((part) => !isAbout('type')(part)),
        };
      case 'QuestionnaireResponse':
        return {
          ...resource,
          item: partsOf(resource, 'item').map((group) => ({
            ...group,
            item: partsOf(group, 'item').filter(({ linkId }) => linkId !== measure),
          })),
        };
      default:
        return resource;
    }
  });
}

function partsOf(resource: JsonObject, member: string): readonly JsonObject[] {
  return (resource[member] ?? []) as readonly JsonObject[];
}

function codeOf(concept: unknown): string | undefined {
  return measureCode({ code: concept });
}

/** Every measure stated anywhere in the record. */
function measuresIn(bundle: JsonObject): readonly string[] {
  const found = (bundle['entry'] as readonly { readonly resource: JsonObject }[]).flatMap(({ resource }) => [
    measureCode(resource),
    ...partsOf(resource, 'parameter').map(({ code }) => codeOf(code)),
    ...partsOf(resource, 'property').map(({ type }) => codeOf(type)),
    ...partsOf(resource, 'item').flatMap((group) =>
      partsOf(group, 'item').map(({ linkId }) => String(linkId)),
    ),
  ]);
  return [
    ...new Set(found.filter((each) => each !== undefined && !each.startsWith('hip'))),
  ].sort() as string[];
}

describe('information is monotone with every carrier, for what is planned and what is in place', () => {
  const record = everyCarrier();
  const constructs = new Set<string>();
  let moved = 0;

  it('is asked about both constructs of both hips, over measures that Observations, orders, implants and answers carry', async () => {
    const measures = measuresIn(record);
    expect(measures).toEqual(
      expect.arrayContaining([
        'cup-inclination',
        'head-diameter',
        'cup-outer-diameter',
        'surgical-approach',
        'wear-pattern',
      ]),
    );
    for (const { hook } of SERVICES)
      for (const { hip, construct } of (await answerFor(record, hook)).hips)
        constructs.add(`${hip} ${construct}`);
    expect([...constructs].sort()).toEqual(['left in-place', 'left planned', 'right planned']);
  });

  for (const { hook } of SERVICES) {
    it(`at ${hook}, whichever measures are taken away`, async () => {
      await fc.assert(
        fc.asyncProperty(
          fc.uniqueArray(fc.constantFrom(...measuresIn(record).filter((each) => !MODEL.has(each))), {
            minLength: 1,
            maxLength: 4,
          }),
          async (gone) => {
            const before = byRule(
              (await answerFor(record, hook)).hips.flatMap(({ advisories }) => advisories),
            );
            const poorer = gone.reduce(withoutEverywhere, record);
            const after = byRule(
              (await answerFor(poorer, hook)).hips.flatMap(({ advisories }) => advisories),
            );
            expect([...after.keys()]).toEqual([...before.keys()]);
            for (const [key, was] of before) {
              const is = after.get(key);
              if (!is || is.outcome === was.outcome || !CLINICAL.has(was.rule)) continue;
              moved += 1;
              expect(is.outcome, `${key} was ${was.outcome} without ${gone.join(', ')}`).toBe('cannot-tell');
              expect(
                is.needs.some((need) => gone.includes(need)),
                `${key} needs ${is.needs.join(', ')}`,
              ).toBe(true);
            }
          },
        ),
        { numRuns: 60, seed: 20261124 },
      );
    });
  }

  it('was really tried: outcomes moved', () => {
    expect(moved).toBeGreaterThan(20);
  });
});

describe('information is monotone', () => {
  let removals = 0;
  let turnedUnknown = 0;
  for (const { name, bundle, expected } of testPatients()) {
    const measures = [
      ...new Set(
        (bundle['entry'] as readonly { resource: JsonObject }[]).flatMap(
          ({ resource }) => measureCode(resource) ?? [],
        ),
      ),
    ];
    for (const hook of ['appointment-book', 'order-sign', 'patient-view'].filter(
      (each) => expected.cards[each],
    )) {
      for (const measure of measures.filter((each) => !MODEL.has(each))) {
        it(`${name} at ${hook} without ${measure}`, async () => {
          const before = byRule((await answerFor(bundle, hook)).hips.flatMap(({ advisories }) => advisories));
          const after = byRule(
            (await answerFor(without(bundle, measure), hook)).hips.flatMap(({ advisories }) => advisories),
          );
          expect([...after.keys()]).toEqual([...before.keys()]);
          removals += 1;
          for (const [key, was] of before) {
            const is = after.get(key);
            if (!is || is.outcome === was.outcome) continue;
            if (CLINICAL.has(was.rule)) {
              expect(is.outcome, key).toBe('cannot-tell');
              expect(is.needs, key).toContain(measure);
              turnedUnknown += 1;
            } else {
              // A finding about a value goes with the value; the rule then has one thing less, or nothing, to judge.
              expect(['does-not-fire', 'not-applicable'], key).toContain(is.outcome);
              expect(was.outcome === 'fires' || is.outcome === 'not-applicable', key).toBe(true);
            }
          }
        });
      }
    }
  }

  it('was really tried: values were taken away, and some outcomes became cannot tell', () => {
    expect(removals).toBeGreaterThan(50);
    expect(turnedUnknown).toBeGreaterThan(20);
  });
});

import { describe, expect, it } from 'vitest';
import type { Advisory } from '../../src/engine/evaluate.js';
import type { JsonObject } from '../../src/fhir/json.js';
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

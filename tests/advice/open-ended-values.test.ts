import { describe, expect, it } from 'vitest';
import { SERVICES } from '../../src/advice/index.js';
import { asObject, objectsIn } from '../../src/fhir/json.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { atMost, each } from '../long-form.js';
import { answerTo, inputFor, testPatients } from './patients.js';

/** Ways in which FHIR R4 (Quantity, Range) lets one value be said without both ends, or too large for its unit. */
const WAYS: Readonly<Record<string, (quantity: JsonObject) => JsonObject>> = {
  'below it': (quantity) => ({ valueQuantity: { ...quantity, comparator: '<' } }),
  'above it': (quantity) => ({ valueQuantity: { ...quantity, comparator: '>=' } }),
  'it and more': (quantity) => ({ valueRange: { low: quantity } }),
  'it at most': (quantity) => ({ valueRange: { high: quantity } }),
  'the greatest number there is': (quantity) => ({ valueQuantity: { ...quantity, value: 1.7e308 } }),
};

/** The Bundle with one Observation's value said another way. */
function saidOtherwise(
  bundle: JsonObject,
  at: number,
  way: (quantity: JsonObject) => JsonObject,
): JsonObject {
  const entry = objectsIn(bundle['entry']).map((one, index) => {
    if (index !== at) return one;
    const { valueQuantity, ...resource } = asObject(one['resource']) ?? {};
    return { ...one, resource: { ...resource, ...way(asObject(valueQuantity) ?? {}) } };
  });
  return { ...bundle, entry };
}

function quantitiesIn(bundle: JsonObject): readonly number[] {
  return objectsIn(bundle['entry']).flatMap((one, index) =>
    asObject(asObject(one['resource'])?.['valueQuantity']) ? [index] : [],
  );
}

describe('a value that is said without both ends', () => {
  // Truth: the project's rule that an unknown never fails a call: whatever one value says, the call is answered.
  it.each(Object.entries(WAYS).map(([text, way], index) => [text, way, index] as const))(
    'of any measure of any test patient, as %s, is answered at every hook',
    async (_text, way, start) => {
      const failed: string[] = [];
      let answered = 0;
      for (const { name, bundle, expected } of each(5, testPatients(), start)) {
        for (const at of quantitiesIn(bundle)) {
          const changed = saidOtherwise(bundle, at, way);
          for (const hook of new Set(SERVICES.map((service) => service.hook))) {
            const input = inputFor(changed, hook, expected.now);
            if (!input) continue;
            try {
              const { faults } = await answerTo(input);
              answered += 1;
              // A rule that could not be evaluated says nothing, and nobody would know.
              failed.push(
                ...faults.map(
                  ({ rule, error }) => `${name}, entry ${at}, ${hook}: ${rule}: ${String(error)}`,
                ),
              );
            } catch (error) {
              failed.push(`${name}, entry ${at}, ${hook}: ${String(error)}`);
            }
          }
        }
      }
      expect(failed).toEqual([]);
      expect(answered).toBeGreaterThan(atMost(100, 500));
    },
  );
});

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { asObject } from '../../../src/fhir/json.js';
import { checkResponse } from '../logical-model-check.js';
import { mutate, mutation } from '../../server/mutation.js';
import { post, testApp } from '../../server/test-service.js';
import { fhirIssues } from '../../oracles/fhir-validity.js';
import { SPEAKING } from './answers.js';

const RUNS = Number(process.env['KOTYLE_FUZZ_RUNS'] ?? 150);
const SEED = Number(process.env['KOTYLE_FUZZ_SEED'] ?? 20_261_124);
const app = testApp();

/** Whole requests damaged anywhere, the members of the standard among them. */
const damaged = fc.record({
  hook: fc.constantFrom(...Object.keys(SPEAKING)),
  mutations: fc.array(mutation, { minLength: 1, maxLength: 5 }),
});

describe('a request damaged anywhere', () => {
  it(
    '[G3, G4, E9] is answered in strict JSON without an empty member: cards of the standard, or a valid OperationOutcome',
    async () => {
      const seen = { answered: 0, refused: 0 };
      await fc.assert(
        fc.asyncProperty(damaged, async ({ hook, mutations }) => {
          const [path, call] = SPEAKING[hook] ?? ['', {}];
          const { status, text } = await post(app, path, mutate(call, mutations));
          expect([200, 400, 412], text).toContain(status);
          const body: unknown = JSON.parse(text);
          expect(JSON.stringify(body)).toBe(text);
          if (status === 200) {
            seen.answered += 1;
            expect(checkResponse(body)).toEqual([]);
          } else {
            seen.refused += 1;
            expect(fhirIssues(asObject(body) ?? {})).toEqual([]);
          }
        }),
        { numRuns: RUNS, seed: SEED },
      );
      // Both ends of the property were met.
      expect(seen.answered).toBeGreaterThan(0);
      expect(seen.refused).toBeGreaterThan(0);
    },
    60_000 + RUNS * 100,
  );
});

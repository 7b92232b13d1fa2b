import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { SERVICES } from '../../src/advice/index.js';
import { canonicalJson } from '../../src/base/canonical-json.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { each } from '../long-form.js';
import { everyCarrier } from './every-carrier.js';
import { answerFor, testPatients } from './patients.js';

function shuffled(bundle: JsonObject, order: readonly number[]): JsonObject {
  const entries = bundle['entry'] as readonly unknown[];
  const ranked = entries.map((entry, index) => ({ entry, key: order[index % order.length] ?? 0, index }));
  return {
    ...bundle,
    entry: ranked.sort((a, b) => a.key - b.key || b.index - a.index).map(({ entry }) => entry),
  };
}

/**
 * Every resource but patient, visit and drafts a second time, under another id and with no id at all: nothing but the
 * content can then put them in order.
 */
function withTwins(bundle: JsonObject): JsonObject {
  const entries = bundle['entry'] as readonly { readonly resource: JsonObject }[];
  const twins = entries
    .filter(
      ({ resource }) =>
        !['Patient', 'Appointment', 'Encounter', 'ServiceRequest'].includes(String(resource['resourceType'])),
    )
    .flatMap(({ resource: { id, ...rest } }) => [
      { resource: { ...rest, id: `${String(id)}-twin` } },
      { resource: { ...rest, language: 'en' } },
    ]);
  return { ...bundle, entry: [...entries, ...twins] };
}

/** Asks again with the entries in other orders, and insists on the same bytes. */
async function expectSameBytes(bundle: JsonObject, hook: string, numRuns: number): Promise<void> {
  const straight = await answerFor(bundle, hook);
  await fc.assert(
    fc.asyncProperty(
      fc.array(fc.integer({ min: 0, max: 1000 }), { minLength: 5, maxLength: 20 }),
      async (order) => {
        const other = await answerFor(shuffled(bundle, order), hook);
        expect(JSON.stringify(other.cards)).toBe(JSON.stringify(straight.cards));
        expect(canonicalJson(other.evaluation?.() ?? null)).toBe(
          canonicalJson(straight.evaluation?.() ?? null),
        );
      },
    ),
    { numRuns, seed: 20261124 },
  );
}

describe('same input, same output', () => {
  it('to the byte, however the entries of a bundle are shuffled', async () => {
    for (const { bundle, expected } of each(3, testPatients()))
      for (const hook of Object.keys(expected.cards)) await expectSameBytes(bundle, hook, 2);
  });

  for (const { hook } of SERVICES) {
    it(`to the byte at ${hook}, with implants, implant orders, a questionnaire and measures of every stage`, async () => {
      const answer = await answerFor(everyCarrier(), hook);
      // Without cards there would be little to differ.
      expect(answer.cards.length).toBeGreaterThan(0);
      await expectSameBytes(everyCarrier(), hook, 15);
      await expectSameBytes(withTwins(everyCarrier()), hook, 15);
    });
  }

  it('keeps the SHA-256 of a golden evaluation whose numbers are checked elsewhere against closed forms', async () => {
    // Truth: snapshot beside closed forms; steep-cup.test.ts and triggers.test.ts assert this patient's numbers.
    const golden = JSON.parse(readFileSync(new URL('./golden.json', import.meta.url), 'utf8')) as Readonly<
      Record<string, string>
    >;
    const patient = testPatients().find(({ name }) => name === golden['patient']);
    if (!patient) throw new Error('the golden patient is gone');
    const evaluation = (await answerFor(patient.bundle, 'order-sign')).evaluation?.();
    const hash = createHash('sha256')
      .update(canonicalJson(evaluation ?? null))
      .digest('hex');
    expect({ rulebook: evaluation?.rulebook.hash, evaluation: hash }).toEqual({
      rulebook: golden['rulebookHash'],
      evaluation: golden['evaluationSha256'],
    });
  });
});

import { readdirSync } from 'node:fs';
import { basename, join } from 'node:path';
import { z } from 'zod';
import { compareText } from '../../base/order.js';
import { allChecked, readChecked } from '../checked-file.js';
import type { Checked } from '../checked-file.js';
import { TRIED_HOOKS } from '../test-patients.js';

const text = z.string().min(1);

/** Where a reader finds what was expected: words of one rule about one of the patients. */
const answer = z.strictObject({ patient: text, rule: text, says: text });

const expectation = z.union([
  z.strictObject({ expects: text, answers: z.array(answer).min(1) }),
  /** These patients are met with no card, at one hook or at any. */
  z.strictObject({ expects: text, silence: z.array(text).min(1), at: z.enum(TRIED_HOOKS).optional() }),
  /** No card of these patients, or of that rule, holds these words. */
  z.strictObject({
    expects: text,
    unsaid: z.array(z.strictObject({ patient: text, rule: text.optional(), says: text })).min(1),
  }),
  /** Nothing says it: why, and words that would. Once they are found, the gap is closed and must be taken out. */
  z.strictObject({ expects: text, gap: text, wouldSay: text }),
]);

const readingSchema = z.strictObject({
  title: text,
  /** What lies before the surgeon. */
  plan: text,
  /** Test patients of fixtures/patients, the one it is chiefly about first. */
  patients: z.array(text).min(1),
  /** Whether whoever wrote down what is expected had not read the rules. */
  blind: z.literal(true).optional(),
  /** What a careful surgeon would think of, in that order, written down from the clinical decisions, not from the cards. */
  expected: z.array(expectation).min(1),
});

export type Answer = z.infer<typeof answer>;
export type Expectation = z.infer<typeof expectation>;

/** One reader's patient: the reasoning expected. */
export interface Reading extends z.infer<typeof readingSchema> {
  readonly id: string;
}

/** Reads every reader's patient of a folder, sorted by name. */
export function readReadings(folder: string): Checked<readonly Reading[]> {
  const files = readdirSync(folder).filter((name) => name.endsWith('.json'));
  return allChecked(
    files.sort(compareText).map((name) => {
      const read = readChecked(join(folder, name), readingSchema);
      return read.ok ? { ok: true, value: { id: basename(name, '.json'), ...read.value } } : read;
    }),
  );
}

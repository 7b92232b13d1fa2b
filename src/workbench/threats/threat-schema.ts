import { z } from 'zod';

/** The form of the threat model, `src/server/threats.json`: what could go wrong, what holds it, and the tests of that. */

const text = z.string().regex(/\S/, 'some words');

const control = z.strictObject({
  /** What it does, in one sentence. */
  says: text,
  tests: z
    .array(
      z.strictObject({
        file: z.string().regex(/^tests\/.+\.test\.ts$/, 'a test file under tests/'),
        /** The title of one test in that file, as written there, placeholders included. */
        name: text,
      }),
    )
    .min(1),
});

const threat = z.strictObject({
  id: z.string().regex(/^(?:CDS-\d|API\d{1,2})$/, 'CDS- or API and a number'),
  name: text,
  /** What it would look like here. */
  here: text,
  controls: z.array(control).min(1),
  /** What remains, and whose it is. */
  remains: text,
});

export const threatModelSchema = z.strictObject({
  title: text,
  note: text,
  /** What an attacker would be after, most wanted first. */
  assets: z.array(text).min(1),
  /** Who is trusted with what, and where trust ends. */
  boundaries: z.array(text).min(1),
  sources: z
    .array(
      z.strictObject({
        name: text,
        about: text,
        threats: z.array(threat).min(1),
      }),
    )
    .min(1),
});

export type ThreatModel = z.infer<typeof threatModelSchema>;
export type Threat = z.infer<typeof threat>;

import { z } from 'zod';
import { TRIED_HOOKS } from '../test-patients.js';

/** The form of `fixtures/edges/*.json`: small changes to a test patient, and what one rule must then say. */

const plain = z.union([z.number(), z.string(), z.boolean(), z.tuple([z.number(), z.number()])]);

/** Members that stand in place of the usual ones. */
const others = z.record(z.string(), z.unknown()).optional();

const measured = z.strictObject({
  /** A number, a code, a flag, or the two ends of a range. */
  value: plain,
  side: z.enum(['left', 'right']).optional(),
  date: z.string().optional(),
  /** Components, such as `method` or `version-reference`. */
  with: z.record(z.string(), z.union([z.string(), z.boolean()])).optional(),
  more: others,
});

/** `icd|G20`, `pcs|0SW9XJZ`, `sct|52734007`, or a whole `system|code`. */
const code = z.string().regex(/^[^|]+\|[^|]+$/);

const coded = z.union([
  code,
  z.strictObject({
    code,
    side: z.enum(['left', 'right']).optional(),
    /** null leaves the date out. */
    date: z.string().nullable().optional(),
    more: others,
  }),
]);

const changes = {
  /**
   * By measure: the new value, or null for none. `measure@stage` names one of several stages, a trailing `+` adds a
   * reading beside those there are.
   */
  set: z.record(z.string(), z.union([plain, measured, z.null()])).optional(),
  /** By code, such as `loinc|39156-5`: a laboratory or body measure beside those there are, in the unit of its fact. */
  laboratory: z
    .record(z.string(), z.union([z.number(), z.strictObject({ value: z.number(), date: z.string() })]))
    .optional(),
  /** Members of the Patient that stand in place of its own, such as `birthDate`; null for none. */
  patient: others,
  conditions: z.array(coded).optional(),
  procedures: z.array(coded).optional(),
  /** The code of the draft order, or members that stand in place of its own. */
  order: z.union([code, z.strictObject({ code: code.optional(), more: others })]).optional(),
  /** Types of resources, or ids, that are left out. */
  without: z.array(z.string()).optional(),
  /** Prefetch sets that do not arrive, such as `conditions`: what would stand in them stays unknown. */
  unread: z.array(z.string()).optional(),
};

export const changesSchema = z.strictObject(changes);
export type Changes = z.infer<typeof changesSchema>;
export type Measured = z.infer<typeof measured>;
export type Coded = z.infer<typeof coded>;

const place = {
  /** The test patient that is changed. */
  base: z.string().optional(),
  hook: z.enum(TRIED_HOOKS).optional(),
  hip: z.enum(['left', 'right', 'unknown']).optional(),
  construct: z.enum(['planned', 'in-place']).optional(),
  /** The same once for each of these further changes. */
  each: z.array(changesSchema).optional(),
};

const phrases = z.union([z.string().min(1), z.array(z.string().min(1))]);

const edgeCase = z.strictObject({
  ...place,
  ...changes,
  expect: z.enum(['fires', 'does-not-fire', 'cannot-tell', 'not-applicable']),
  /** What the card must say; what it must not. */
  says: phrases.optional(),
  never: phrases.optional(),
  /** What "cannot tell" must ask for. */
  needs: z.array(z.string()).optional(),
  teaches: z.string().min(1),
});
export type EdgeCase = z.infer<typeof edgeCase>;

const group = z.strictObject({
  ...place,
  ...changes,
  /** What the group is about, for whoever reviews it. */
  about: z.string().min(1),
  cases: z.array(edgeCase).min(1),
});
export type EdgeGroup = z.infer<typeof group>;

export const edgesSchema = z.strictObject({
  rule: z.string().min(1),
  truth: z.enum(['published', 'closed-form', 'independent-implementation', 'clinician']),
  groups: z.array(group).min(1),
});
export type Edges = z.infer<typeof edgesSchema>;

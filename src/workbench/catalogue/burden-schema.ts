import { z } from 'zod';
import { TRIED_HOOKS } from '../test-patients.js';

/** The form of what is measured on invented hips and kept beside the rules, so that a page about it can be checked. */

const count = z.number().int().min(0);

const hookBurden = z.strictObject({
  hook: z.enum(TRIED_HOOKS),
  calls: count,
  /** Index is the number of cards, value the number of calls that had so many. */
  callsByCards: z.array(count),
  callsWithWarning: count,
  /** The most cards of rules in one answer, critical ones apart: what a ceiling speaks of. */
  mostUncritical: count,
  /** Answers in which the ceiling left something out. */
  overCeiling: count,
});

const ruleBurden = z.strictObject({
  rule: z.string(),
  /** Patients in whom it fires, on whichever hip and construct. */
  fires: count,
  /** Patients who get its card. */
  cards: count,
});

const profileBurden = z.strictObject({ hooks: z.array(hookBurden), rules: z.array(ruleBurden) });

export const runSchema = z.strictObject({
  count,
  /** What records hold at booking; rules counted as the visit is booked. */
  recordLike: profileBurden,
  /** Everything planned and measured; rules counted as the order is signed. */
  fullyPlanned: profileBurden,
});

export const burdenSchema = z.strictObject({
  seed: count,
  now: z.iso.datetime(),
  whole: runSchema,
  /** The first hips of the same run, few enough to be run again by a test. */
  first: runSchema,
  /** Pairs of rules that fire on nearly the same of the planned hips. */
  alike: z.array(
    z.strictObject({
      rules: z.tuple([z.string(), z.string()]),
      /** Hips on which both fire, on which at least one does, and on which they say the same. */
      both: count,
      either: count,
      agree: count,
    }),
  ),
});

export type Burden = z.infer<typeof burdenSchema>;
export type BurdenRun = z.infer<typeof runSchema>;
export type ProfileBurden = z.infer<typeof profileBurden>;
export type RuleBurden = z.infer<typeof ruleBurden>;
export type AlikePair = Burden['alike'][number];

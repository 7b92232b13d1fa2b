import { z } from 'zod';

/** The form of a published list of codes by concept, as far as it is read here. */
export const publishedCodesSchema = z.array(
  z.looseObject({
    concept: z.string().min(1),
    codes: z.array(
      z.looseObject({ system: z.string().min(1), code: z.string().min(1), is_prefix: z.boolean() }),
    ),
  }),
);
export type PublishedCodes = z.infer<typeof publishedCodesSchema>;

/** Codes (or, for ICD, the beginnings of codes) and why each is an exception. */
const exceptions = z.record(z.string(), z.string()).optional();

const meaning = z.strictObject({
  concept: z.string().min(1),
  /** Where in a record the code stands. */
  as: z.enum(['condition', 'procedure', 'order', 'appointment', 'observation']),
  /** Only codes of these systems, or that begin so; all of the concept otherwise. */
  systems: z.array(z.string()).optional(),
  only: z.array(z.string()).optional(),
  /** Facts that are then known. */
  facts: z.array(z.string()).optional(),
  /** The kind of operation an order or visit then is. */
  operation: z.string().optional(),
  /** A procedure going on now: nothing is told of that hip. */
  underWay: z.literal(true).optional(),
  /** A second procedure of the same day that the code needs beside it, as `system|code`. */
  with: z.string().optional(),
  /** Codes of the concept that say nothing, or that leave the first fact unclear. */
  not: exceptions,
  unclear: exceptions,
  /** Codes without a place: unclear without one. */
  sited: exceptions,
  /** ICD-10-CM seventh characters that mean it. */
  seventh: z.string().optional(),
  /** Billable codes below a published category that is wider than what is read. */
  below: z.record(z.string(), z.array(z.string())).optional(),
});
export type CodeMeaning = z.infer<typeof meaning>;

/** The form of `fixtures/codes/meanings.json`: what each published concept means here. */
export const meaningsSchema = z.strictObject({
  about: z.string().min(1),
  truth: z.enum(['published', 'clinician']),
  meanings: z.array(meaning).min(1),
});
export type CodeMeanings = z.infer<typeof meaningsSchema>;

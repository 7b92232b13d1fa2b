import { z } from 'zod';
import { STAGES } from '../facts/definitions.js';
import { CERTAINTIES, READ_AT, id, parameterReference, text, version } from './schema-parts.js';

/** The form of parameters, computations and citations. */

export const PARAMETER_USES = ['threshold', 'default', 'tolerance', 'quoted', 'motion-set'] as const;
const pose = z.strictObject({
  name: text,
  flexion: z.number(),
  abduction: z.number(),
  externalRotation: z.number(),
});

export const parameterSchema = z.strictObject({
  id,
  value: z.union([
    z.number(),
    z.tuple([z.number(), z.number()]),
    z.array(pose).min(1),
    z.record(z.string(), z.union([z.number(), z.tuple([z.number(), z.number()])])),
  ]),
  unit: text,
  use: z.enum(PARAMETER_USES),
  readAt: z.enum(READ_AT),
  certainty: z.enum(CERTAINTIES),
  /** Records of the evidence dossier the value was taken from. */
  records: z.array(id),
  citations: z.array(id),
  why: text,
  /** Between which values a site may set it for itself; without it no site may. */
  allowed: z.strictObject({ low: z.number(), high: z.number(), says: text, why: text }).optional(),
});

export const parameterGroupSchema = z.strictObject({
  id,
  kind: z.literal('parameters'),
  title: text,
  parameters: z.array(parameterSchema).min(1),
});

/** How a computation takes one of its inputs; without any of these it can do nothing without it. */
const inputSchema = z.strictObject({
  fact: id,
  /** The stage the value must be of; a value of another stage counts as not known. */
  stage: z.enum(STAGES).optional(),
  whenMissing: z
    .strictObject({
      default: parameterReference,
      /** `plausible`: an outcome may rest on the default only if it is the same over the whole plausible range. */
      decideOver: z.enum(['plausible', 'default']),
      says: text,
    })
    .optional(),
  /**
   * Left out where it was never stated, which `says` tells; stated and not usable, it leaves the result unknown. With
   * `decideOver` the number shown leaves it out, and an outcome must be the same over its whole plausible range.
   */
  optional: z
    .strictObject({ says: text.optional(), decideOver: z.literal('plausible').optional() })
    .optional(),
  /** Asked for only where one of these inputs, named before it, is known and not 0. */
  onlyWith: z.array(id).min(1).optional(),
  /** Whether the result only rises or only falls with it, where that is otherwise than for the computation as a whole. */
  monotone: z.boolean().optional(),
  /** The result changes by no more than this for each unit of it: how far its measuring band carries. */
  slope: z.number().positive().optional(),
  /** Where one of these inputs is known and not 0, the result may turn with it, and no slope holds. */
  turnsWith: z.array(id).min(1).optional(),
});

export const computationSchema = z.strictObject({
  id,
  kind: z.literal('computation'),
  version,
  title: text,
  unit: text,
  /** True when the result only rises or only falls with each input that says nothing else, so that corners bound it. */
  monotone: z.boolean(),
  inputs: z.array(inputSchema).min(1),
  /** Inputs that may be left out, but not all of them: with none of these stated there is no such number. */
  atLeastOneOf: z.array(id).min(2).optional(),
  /** Numbers of the rulebook it runs on beside the facts of a hip, by the name it knows them under. */
  parameters: z.record(id, parameterReference).optional(),
  motionSet: parameterReference.optional(),
  /** What the model leaves out, for whoever reads a rule that asks for it. */
  limits: z.array(text).min(1).optional(),
  /** There is such a number for an unworn liner only: none where this is above 0; not measured, it is taken for 0 aloud. */
  unworn: z.strictObject({ fact: id, says: text }).optional(),
  citations: z.array(id),
});

export const citationSchema = z.strictObject({
  id,
  records: z.array(id).min(1),
  authors: text.nullable(),
  title: text.nullable(),
  journal: text.nullable(),
  year: z.number().int().nullable(),
  volume: text.nullable(),
  pages: text.nullable(),
  doi: text.nullable(),
  pmid: text.nullable(),
  pmcid: text.nullable(),
  short: text,
  readAt: z.enum(READ_AT),
  where: text,
  took: z.array(text).min(1),
  checked: text,
});

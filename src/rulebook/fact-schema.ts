import { z } from 'zod';
import { DATA_FINDING_KINDS, REPLACEMENT_KINDS, STAGES, VERSION_SIGNS } from '../facts/definitions.js';
import { id, parameterReference, text, version } from './schema-parts.js';

/** The form of a fact file. */

const factBase = { id, version, title: text };

export const factSchema = z.discriminatedUnion('kind', [
  z.strictObject({
    ...factBase,
    kind: z.literal('measure'),
    scope: z.enum(['patient', 'hip']),
    stages: z.array(z.enum(STAGES)).min(1),
    valueType: z.enum(['quantity', 'integer', 'code', 'boolean']),
    unit: text.optional(),
    values: z.array(id.or(z.enum(['I', 'II', 'III']))).optional(),
    components: z.array(id),
    repeats: z.boolean(),
    /** Besides Observation and questionnaire: a request's parameter (`order`), an implant's property (`device`). */
    carriers: z.array(z.enum(['order', 'device'])),
    /** Components whose geometry it is: all of them retained, it stays what it was. */
    partOf: z
      .array(z.enum(['cup', 'liner', 'head', 'stem']))
      .min(1)
      .optional(),
    plausible: parameterReference.optional(),
    conflict: parameterReference.optional(),
    measuringError: z
      .strictObject({
        byMethod: z.record(z.string(), parameterReference),
        otherwise: parameterReference,
        unknown: z.array(id),
      })
      .optional(),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('condition'),
    scope: z.enum(['patient', 'hip']),
    status: z.enum(['current', 'lifetime']),
    /** One of the two at least: codes of a Condition, codes of a completed Procedure. */
    valueSet: id.optional(),
    procedureValueSet: id.optional(),
    sitedValueSet: id.optional(),
    unclearValueSet: id.optional(),
    seventhCharacters: z.array(z.string().length(1)).optional(),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('observation'),
    scope: z.literal('patient'),
    valueSet: id,
    unit: text,
    plausible: parameterReference.optional(),
    staleAfter: parameterReference.optional(),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('patient'),
    scope: z.literal('patient'),
    of: z.enum(['age', 'sex']),
    unit: z.literal('a').optional(),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('first-dislocation'),
    scope: z.literal('hip'),
    of: z.array(id).min(1),
    unit: z.literal('a'),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('operation'),
    scope: z.literal('hip'),
    values: z.array(id).min(1),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('derived'),
    scope: z.literal('hip'),
    valueType: z.enum(['quantity', 'code']),
    unit: text.optional(),
    values: z.array(id).optional(),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('finding'),
    scope: z.literal('hip'),
    finds: z.array(z.enum(DATA_FINDING_KINDS)).min(1),
    sets: z.array(text).min(1),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('history'),
    scope: z.literal('hip'),
    arthroplasties: z.array(z.enum(['primary', 'revision', 'conversion', 'unspecified'])).min(1),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('episodes'),
    scope: z.literal('hip'),
    of: z.enum(['closed-reductions', 'revisions']),
    valueType: z.literal('integer'),
    unit: text,
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('carried-out'),
    scope: z.literal('hip'),
    of: id,
    unit: text,
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('presence'),
    scope: z.literal('hip'),
    of: z.literal('measures'),
    sets: z.array(text).min(1),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('unclear'),
    scope: z.enum(['patient', 'hip']),
    of: id,
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('aged'),
    scope: z.literal('hip'),
    of: z.array(id).min(1),
    olderThan: parameterReference,
    changedBy: z.array(z.union([z.strictObject({ condition: id }), z.strictObject({ replacement: text })])),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('after-replacement'),
    scope: z.literal('hip'),
    of: z.array(id).min(1),
    newOnly: z.boolean().optional(),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('replacement-kind'),
    scope: z.literal('hip'),
    values: z.array(z.enum(REPLACEMENT_KINDS)).length(REPLACEMENT_KINDS.length),
    cupImplants: z.array(id).min(1),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('version-sign'),
    scope: z.literal('hip'),
    of: id,
    values: z.array(z.enum(VERSION_SIGNS)).length(VERSION_SIGNS.length),
  }),
]);

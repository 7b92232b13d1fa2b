import { z } from 'zod';
import { id, text } from './schema-parts.js';

/** The form of value sets, code systems and the tables of sides. */

const coding = z.looseObject({ code: text, display: text.optional() });

/** The part of a FHIR R4 ValueSet that matching reads; the rest is kept for publication. */
export const valueSetSchema = z.looseObject({
  resourceType: z.literal('ValueSet'),
  id,
  url: z.url(),
  version: text,
  title: text,
  status: z.enum(['draft', 'active', 'retired']),
  compose: z
    .strictObject({
      include: z
        .array(
          z.looseObject({
            system: z.url(),
            concept: z.array(coding).optional(),
            filter: z
              .array(z.strictObject({ property: z.literal('concept'), op: z.literal('is-a'), value: text }))
              .optional(),
          }),
        )
        .min(1),
      exclude: z
        .array(
          z.looseObject({
            system: z.url().optional(),
            concept: z.array(coding).optional(),
            filter: z
              .array(z.strictObject({ property: z.literal('concept'), op: z.literal('is-a'), value: text }))
              .optional(),
            valueSet: z.array(z.url()).optional(),
          }),
        )
        .optional(),
    })
    .optional(),
});

/** The part of a FHIR R4 CodeSystem that is checked; the rest is kept for publication. */
export const codeSystemSchema = z.looseObject({
  resourceType: z.literal('CodeSystem'),
  id,
  url: z.url(),
  version: text,
  concept: z.array(coding).min(1),
});

const side = z.enum(['left', 'right', 'bilateral']);

export const icdLateralitySchema = z.looseObject({
  system: z.url(),
  families: z.array(
    z.looseObject({
      prefix: text,
      position: z.number().int().optional(),
      sides: z.record(z.string(), side).optional(),
      codes: z.record(z.string(), side).optional(),
    }),
  ),
});

export const snomedLateralitySchema = z.looseObject({
  system: z.url(),
  sidedCodes: z.record(z.string(), side),
  sidedSites: z.record(z.string(), side),
  hipSites: z.array(text),
  sides: z.record(z.string(), side),
});

export const aliasesSchema = z.record(z.url(), z.array(text));

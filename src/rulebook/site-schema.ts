import { z } from 'zod';
import { governedMembers } from './governance-schema.js';

/** The form of a site file and of its maps: what one installation adds to the rulebook. */

const text = z.string().regex(/\S/, 'a text');
const id = z.string().regex(/^[a-z0-9]+(?:[.-][a-z0-9]+)*$/, 'kebab-case');

/** A site may show fewer cards than shipped, never more: 3 at booking and chart, 5 at ordering, at least one. */
function ceiling(most: number): z.ZodType<number | undefined> {
  return z
    .int()
    .min(1, `a whole number from 1 to ${most}`)
    .max(most, `a whole number from 1 to ${most}`)
    .optional();
}

const roles = z.array(z.string().regex(/^[^|\s]+\|[^|\s]+$/, 'system|code')).min(1, 'at least one role');

export const siteSchema = z.strictObject({
  id,
  version: text,
  rulebook: z
    .strictObject({
      version: text,
      hash: z.string().regex(/^sha256-[0-9a-f]{64}$/, 'sha256- and 64 hex digits'),
    })
    .optional(),
  /** ConceptMaps, by path from the site file. */
  maps: z.array(text).optional(),
  ceiling: z
    .strictObject({
      'appointment-book': ceiling(3),
      'order-select': ceiling(5),
      'order-sign': ceiling(5),
      'patient-view': ceiling(3),
    })
    .optional(),
  sources: z
    .strictObject({
      /** Types of resource, or prefetch keys, this record system does not have. */
      absent: z.array(text).optional(),
      /** Measures this site records. */
      recorded: z.array(id).optional(),
    })
    .optional(),
  defaults: z.record(id, z.union([z.number(), z.boolean(), text])).optional(),
  /** Roles that may see a service's cards. */
  audience: z
    .strictObject({
      'hip-stability-booking': roles.optional(),
      'hip-stability-order': roles.optional(),
      'hip-stability-chart': roles.optional(),
    })
    .optional(),
  ...governedMembers,
});

/** Extensions that turn a resource around, and rules for codes that are not listed, would be passed over unread. */
function unread(name: string): z.ZodType {
  return z
    .unknown()
    .refine((value) => value === undefined, `no ${name}, which is not read`)
    .optional();
}

export const EQUIVALENCES = [
  'relatedto',
  'equivalent',
  'equal',
  'wider',
  'subsumes',
  'narrower',
  'specializes',
  'inexact',
  'unmatched',
  'disjoint',
] as const;

const property = z.looseObject({ property: text, system: text.optional(), value: text });

const target = z.looseObject({
  code: text,
  equivalence: z.enum(EQUIVALENCES),
  comment: text.optional(),
  dependsOn: z.array(property).optional(),
  product: z.array(property).optional(),
  modifierExtension: unread('modifierExtension'),
});

/** The part of a FHIR R4 ConceptMap that is read; names and texts may stand beside it. */
export const conceptMapSchema = z.looseObject({
  resourceType: z.literal('ConceptMap'),
  status: z.enum(['draft', 'active']),
  implicitRules: unread('implicitRules'),
  modifierExtension: unread('modifierExtension'),
  group: z
    .array(
      z.looseObject({
        source: text,
        target: text,
        unmapped: unread('unmapped'),
        modifierExtension: unread('modifierExtension'),
        element: z
          .array(
            z.looseObject({
              code: text,
              modifierExtension: unread('modifierExtension'),
              target: z.array(target).min(1, 'at least one target'),
            }),
          )
          .min(1),
      }),
    )
    .min(1),
});

export type SiteFile = z.infer<typeof siteSchema>;
export type ConceptMapFile = z.infer<typeof conceptMapSchema>;
export type MapTarget = z.infer<typeof target>;

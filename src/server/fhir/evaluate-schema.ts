import { z } from 'zod';

/** The form of what `$evaluate` takes. */

const FHIR_ID = /^(?:Patient\/)?[A-Za-z0-9\-.]{1,64}$/;

export const bundleSchema = z.looseObject({ resourceType: z.literal('Bundle') });

const authorizationPart = z.union([
  z.looseObject({ name: z.literal('access_token'), valueString: z.string().min(1).max(16_384) }),
  z.looseObject({ name: z.literal('scope'), valueString: z.string().max(16_384) }),
]);

const parameterSchema = z.discriminatedUnion(
  'name',
  [
    z.looseObject({ name: z.literal('data'), resource: bundleSchema }),
    z.looseObject({
      name: z.literal('subject'),
      valueString: z.string().regex(FHIR_ID, 'an id or Patient/id'),
    }),
    z.looseObject({
      name: z.literal('fhirServer'),
      valueUrl: z.url({ protocol: /^https?$/, error: 'an http or https URL' }),
    }),
    z.looseObject({
      name: z.literal('fhirAuthorization'),
      part: z.array(authorizationPart).min(1).max(2),
    }),
    z.looseObject({ name: z.literal('hip'), valueCode: z.enum(['left', 'right']) }),
    z.looseObject({ name: z.literal('stage'), valueCode: z.enum(['planned', 'postoperative']) }),
    z.looseObject({ name: z.literal('now'), valueInstant: z.iso.datetime({ offset: true }) }),
  ],
  { error: 'a parameter of the operation' },
);

/** More parameters than there are names is no request of ours. */
const MOST = 7;

export const evaluateSchema = z.looseObject({
  resourceType: z.literal('Parameters', 'Parameters or Bundle'),
  parameter: z.array(parameterSchema).min(1).max(MOST),
});

export type EvaluateParameter = z.infer<typeof parameterSchema>;

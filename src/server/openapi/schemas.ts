import { z } from 'zod';
import { envelope as feedbackEnvelope } from '../feedback-request.js';
import { bundleSchema, evaluateSchema } from '../fhir/evaluate-schema.js';
import { CONTEXTS, envelope as hookEnvelope } from '../hook-request.js';
import { readForm } from './read-form.js';

/** What is taken, by the very schemas it is checked with, and what is given, as far as a client relies on it. */

const calls = Object.entries(CONTEXTS).map(([hook, context]) =>
  readForm(hookEnvelope.extend({ hook: z.literal(hook), context })).meta({ id: `${nameOf(hook)}Call` }),
);

export const hookCall = z
  .union([calls[0] ?? hookEnvelope, ...calls.slice(1)])
  .meta({ id: 'HookCall', description: 'A CDS Hooks request, for one of the hooks of the service.' });

export const feedback = readForm(feedbackEnvelope).meta({ id: 'Feedback' });

const parameters = evaluateSchema.meta({ id: 'EvaluateParameters' });
const bundle = bundleSchema.meta({ id: 'PatientBundle', description: 'The record of one patient.' });
export const evaluateBody = z.union([parameters, bundle]).meta({ id: 'EvaluateBody' });

/** `order-sign` as `OrderSign`. */
function nameOf(hook: string): string {
  return hook.replaceAll(/(?:^|-)([a-z])/g, (_match, letter: string) => letter.toUpperCase());
}

const service = z.looseObject({
  hook: z.string(),
  id: z.string(),
  title: z.string(),
  description: z.string(),
  usageRequirements: z.string(),
  prefetch: z.record(z.string(), z.string()),
  extension: z.record(z.string(), z.unknown()),
});

export const discovery = z.looseObject({ services: z.array(service) }).meta({ id: 'Discovery' });

const coding = z.looseObject({ code: z.string(), system: z.string(), display: z.string().optional() });

const card = z.looseObject({
  uuid: z.string(),
  summary: z.string(),
  detail: z.string(),
  indicator: z.enum(['info', 'warning', 'critical']),
  source: z.looseObject({ label: z.string(), topic: coding }),
  suggestions: z.array(z.looseObject({ label: z.string(), uuid: z.string() })),
  selectionBehavior: z.literal('at-most-one'),
  overrideReasons: z.array(coding),
  links: z
    .array(z.looseObject({ label: z.string(), url: z.string(), type: z.literal('absolute') }))
    .optional(),
  extension: z.record(z.string(), z.unknown()),
});

export const cards = z.looseObject({ cards: z.array(card) }).meta({ id: 'Cards' });

/** A resource of FHIR R4 is described by FHIR itself; here only which one it is. */
export function resource(type: string): z.ZodType {
  return z
    .looseObject({ resourceType: z.literal(type) })
    .meta({ id: type, description: `FHIR R4 ${type}, https://hl7.org/fhir/R4/` });
}

export const anyResource = z
  .looseObject({ resourceType: z.string(), id: z.string(), url: z.string(), version: z.string() })
  .meta({ id: 'PublishedResource', description: 'A resource of FHIR R4, https://hl7.org/fhir/R4/' });

export const status = z
  .looseObject({ status: z.string(), engine: z.string(), rulebook: z.string(), rulebookHash: z.string() })
  .meta({ id: 'Status' });

import { z } from 'zod';
import { resource } from './schemas.js';

const FHIR = 'application/fhir+json';
const outcome = resource('OperationOutcome');

/** What each refusal or failure means to a client. */
const PROBLEMS = {
  400: 'The request is malformed, or asks for something that cannot be; each fault with its path.',
  403: 'The client may not use this service or this FHIR server.',
  404: 'There is no such path, service or resource.',
  405: 'The path has other methods; Allow names them.',
  406: 'The answer is asked for in a form that is not offered.',
  408: 'The body did not arrive in time.',
  410: 'It was published in an earlier release and taken back.',
  412: 'What is needed to answer was not sent and could not be read.',
  413: 'The body is too large.',
  415: 'The body is of another media type.',
  429: 'The client makes more calls than it may; Retry-After says when to call again.',
  500: 'The service failed; nothing was evaluated.',
  503: 'Too many calls at once, or what must be kept could not be kept; Retry-After may say when to call again.',
} as const;
type ProblemStatus = keyof typeof PROBLEMS;

interface Answer {
  readonly description: string;
  readonly content?: Readonly<Record<string, { readonly schema: z.ZodType }>>;
}

/** Refusals, each with an OperationOutcome; a call without a valid token is answered 401 and nothing more. */
export function problems(...statuses: readonly (ProblemStatus | 401)[]): Readonly<Record<number, Answer>> {
  return Object.fromEntries(
    statuses.map((status) => [
      status,
      status === 401
        ? { description: 'Production: the token is missing or not valid. The body is empty.' }
        : { description: PROBLEMS[status], content: { [FHIR]: { schema: outcome } } },
    ]),
  );
}

export function json(description: string, schema: z.ZodType): Answer {
  return { description, content: { 'application/json': { schema } } };
}

export function fhir(description: string, schema: z.ZodType): Answer {
  return { description, content: { [FHIR]: { schema }, 'application/json': { schema } } };
}

export function text(description: string, mediaType: string): Answer {
  return { description, content: { [mediaType]: { schema: z.string() } } };
}

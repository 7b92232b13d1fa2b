import type { Request, Response } from 'express';
import { issue } from '../../base/result.js';
import { answerProblem } from '../problems.js';

/** The form an answer is asked for in: FHIR's own media type unless only the general one is accepted. */
const FORMATS = ['application/fhir+json', 'application/json'] as const;
export type Format = (typeof FORMATS)[number];

/** Short forms that R4 names for `_format`; a plus sign that was not escaped arrives as a blank. */
const BY_PARAMETER: Readonly<Record<string, Format>> = {
  json: 'application/fhir+json',
  'application/fhir+json': 'application/fhir+json',
  'application/fhir json': 'application/fhir+json',
  'application/json': 'application/json',
  'text/json': 'application/json',
};

/** Which form is asked for, by `_format` before `Accept`; answers 406 itself where it is none of ours. */
export function formatOf(request: Request, response: Response): Format | undefined {
  const asked = request.query['_format'];
  const format =
    asked === undefined
      ? FORMATS.find((one) => one === request.accepts([...FORMATS]))
      : typeof asked === 'string'
        ? BY_PARAMETER[asked.toLowerCase()]
        : undefined;
  if (format) return format;
  answerProblem(response, [
    issue('not-acceptable', '', `expected to send ${FORMATS.join(' or ')}, was asked for another form`),
  ]);
  return undefined;
}

/** Sends a resource that is written as JSON already. */
export function sendJson(response: Response, format: Format, text: string): void {
  response.setHeader('Content-Type', `${format}; charset=utf-8`);
  response.end(text);
}

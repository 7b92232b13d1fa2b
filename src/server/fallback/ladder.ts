import { statusParameter } from './explicit-statuses.js';

/** The parameters of one search, in the order of the template. */
export type Terms = readonly (readonly [name: string, value: string])[];

export type RungName =
  'as-published' | 'with-statuses' | 'single-values' | 'single-values-with-statuses' | 'patient-only';

/** One way of asking for a set: every search of it, joined. */
export interface Rung {
  readonly name: RungName;
  readonly searches: readonly Terms[];
}

/**
 * The ways of asking for one set, each for servers that refuse those before it: as published; with the statuses some
 * servers demand; without comma lists, one search for each value; and by patient alone, leaving the rest to our readers.
 */
export function ladderOf(type: string, terms: Terms): readonly Rung[] {
  const status = statusParameter(type);
  const stated = status !== undefined && terms.some(([name]) => name === status.name);
  const withStatuses: Terms | undefined =
    status && !stated ? [...terms, [status.name, status.codes.join(',')]] : undefined;
  const rungs: Rung[] = [{ name: 'as-published', searches: [terms] }];
  if (withStatuses) rungs.push({ name: 'with-statuses', searches: [withStatuses] });
  const single = singleValues(terms);
  if (single.length > 1) rungs.push({ name: 'single-values', searches: single });
  if (withStatuses) rungs.push({ name: 'single-values-with-statuses', searches: singleValues(withStatuses) });
  const patient = terms.filter(([name]) => name === 'patient');
  if (patient.length > 0 && patient.length < terms.length)
    rungs.push({ name: 'patient-only', searches: [patient] });
  return rungs;
}

/** FHIR R4 search, "escaping search parameters": a comma parts alternatives unless a backslash stands before it. */
const COMMA = /(?<!\\),/;

/** Every combination of one value for each parameter: together they find what the comma lists would. */
function singleValues(terms: Terms): readonly Terms[] {
  return terms.reduce<readonly Terms[]>(
    (searches, [name, values]) =>
      values.split(COMMA).flatMap((value) => searches.map((search): Terms => [...search, [name, value]])),
    [[]],
  );
}

import { fileURLToPath } from 'node:url';

function shipped(path: string): string {
  return fileURLToPath(new URL(`../../${path}`, import.meta.url));
}

/** The test patients, edge cases, reviewed lists and numbers of invented hips that come with the rules. */
export const SHIPPED = {
  patients: shipped('fixtures/patients'),
  edges: shipped('fixtures/edges'),
  codeMeanings: shipped('fixtures/codes/meanings.json'),
  codes: shipped('tests/published/terminology/codes.json'),
  survivors: shipped('fixtures/survivors.json'),
  population: shipped('fixtures/synthetic/population.json'),
  recordCodes: shipped('fixtures/synthetic/codes.json'),
} as const;

import { fileURLToPath } from 'node:url';

function shipped(path: string): string {
  return fileURLToPath(new URL(`../../${path}`, import.meta.url));
}

/** The test patients, edge cases, reviewed lists, numbers of invented hips and what was measured on them, beside the rules. */
export const SHIPPED = {
  patients: shipped('fixtures/patients'),
  edges: shipped('fixtures/edges'),
  codeMeanings: shipped('fixtures/codes/meanings.json'),
  codes: shipped('tests/published/terminology/codes.json'),
  survivors: shipped('fixtures/survivors.json'),
  alike: shipped('fixtures/alike.json'),
  openQuestions: shipped('fixtures/open-questions.json'),
  burden: shipped('fixtures/burden.json'),
  population: shipped('fixtures/synthetic/population.json'),
  recordCodes: shipped('fixtures/synthetic/codes.json'),
} as const;

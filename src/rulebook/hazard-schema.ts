import { z } from 'zod';
import { date, text } from './schema-parts.js';

/** The form of the hazard log, `rules/hazards.json`: each hazard, what holds it, and the tests that hold that. */

/** Scale of a public guide for health IT, as read in a page that quotes it; "catastrophic" from memory. */
export const SEVERITIES = ['minor', 'significant', 'considerable', 'major', 'catastrophic'] as const;
/** Under 5 %, 5–25 %, 25–50 %, 50–90 % and over 90 %: the same guide. */
export const LIKELIHOODS = ['very low', 'low', 'medium', 'high', 'very high'] as const;
export type Severity = (typeof SEVERITIES)[number];
export type Likelihood = (typeof LIKELIHOODS)[number];
export type Risk = 1 | 2 | 3 | 4 | 5;

/** The 5 × 5 matrix, by severity and then from very low to very high likelihood. From memory, to be compared with its source. */
const RISKS: Readonly<Record<Severity, Readonly<Record<Likelihood, Risk>>>> = {
  minor: row(1, 1, 2, 2, 3),
  significant: row(1, 2, 2, 3, 4),
  considerable: row(2, 2, 3, 3, 4),
  major: row(2, 3, 3, 4, 5),
  catastrophic: row(3, 4, 4, 5, 5),
};

function row(...risks: readonly [Risk, Risk, Risk, Risk, Risk]): Readonly<Record<Likelihood, Risk>> {
  const [veryLow, low, medium, high, veryHigh] = risks;
  return { 'very low': veryLow, low, medium, high, 'very high': veryHigh };
}

export function riskOf(severity: Severity, likelihood: Likelihood): Risk {
  return RISKS[severity][likelihood];
}

/** Up to here a risk is acceptable; 3 only when no more can reasonably be done; above it is not. */
export const ACCEPTABLE: Risk = 2;
export const TOLERABLE: Risk = 3;

const rating = z.strictObject({
  severity: z
    .enum(SEVERITIES)
    .describe(
      'minor: inconvenience or passing discomfort; significant: temporary injury without need of intervention; considerable: injury that needs medical or surgical intervention; major: permanent impairment; catastrophic: death (wording from memory).',
    ),
  likelihood: z
    .enum(LIKELIHOODS)
    .describe(
      'That the failure, taken as having happened, leads to the harm. very low: under 5 %; low: 5–25 %; medium: 25–50 %; high: 50–90 %; very high: over 90 %.',
    ),
  risk: z
    .number()
    .int()
    .min(1)
    .max(5)
    .describe(
      'From the 5 × 5 matrix (cells from memory), likelihood from very low to very high: minor 1 1 2 2 3; significant 1 2 2 3 4; considerable 2 2 3 3 4; major 2 3 3 4 5; catastrophic 3 4 4 5 5. 1–2 acceptable, 3 tolerable only if reduced as far as practicable, 4–5 not acceptable (from memory).',
    ),
});

const kind = z
  .enum(['design', 'protective', 'information'])
  .describe(
    'In order of strength: safe by design; a protective measure in the product or its making; information for safety.',
  );
const says = text.describe('What it does, in one sentence.');
const test = z.strictObject({
  file: z.string().regex(/^tests\/.+\.ts$/, 'a TypeScript file under tests/'),
  name: text.describe('The title of one test in that file, as written there, placeholders included.'),
});

const controlSchema = z.discriminatedUnion('state', [
  z.strictObject({ state: z.literal('tested'), kind, says, tests: z.array(test).min(1) }),
  z.strictObject({ state: z.literal('untested'), kind, says, why: text.describe('Why no test holds it.') }),
  z.strictObject({ state: z.literal('planned'), kind, says }),
]);

const hazardSchema = z.strictObject({
  id: z.string().regex(/^HZ-\d{2}$/, 'HZ- and two digits'),
  hazard: text,
  cause: text,
  sequence: text.describe('From the cause to the hazardous situation.'),
  harm: text,
  before: rating,
  controls: z.array(controlSchema).min(1),
  after: rating,
  status: z
    .enum(['controlled', 'watched', 'open'])
    .describe(
      'controlled: acceptable, every control tested; watched: acceptable or tolerable, with something left to do; open: not acceptable, or a gap was found that nothing holds.',
    ),
  /** What is left: a gap, a missing test, a control to come. */
  remains: text.optional(),
  owner: text,
  review: z.discriminatedUnion('state', [
    z.strictObject({ state: z.literal('draft') }),
    z.strictObject({ state: z.literal('reviewed'), by: z.array(text).min(1), on: date }),
  ]),
});

export const hazardLogSchema = z.strictObject({
  title: text,
  note: text,
  hazards: z.array(hazardSchema).min(1),
  /** Ids of hazards that were taken out; an id is never used again. */
  retired: z.array(z.string().regex(/^HZ-\d{2}$/, 'HZ- and two digits')),
});

export type HazardLog = z.infer<typeof hazardLogSchema>;
export type Hazard = z.infer<typeof hazardSchema>;
export type Control = z.infer<typeof controlSchema>;

import { z } from 'zod';
import {
  CERTAINTIES,
  DATA_USES,
  ENDPOINTS,
  ENTRIES,
  date,
  dataUse,
  id,
  parameterReference,
  text,
  version,
} from './schema-parts.js';

/** The form of conditions, findings and rules. */

export const NUMERIC_OPERATORS = [
  'above',
  'below',
  'at-least',
  'at-most',
  'clearly-above',
  'clearly-below',
] as const;
export const CODE_OPERATORS = ['equal', 'one-of'] as const;
export const OPERATORS = [...NUMERIC_OPERATORS, ...CODE_OPERATORS, 'recorded'] as const;

/** A code of a measure as it is written there: some are Roman numerals. */
const code = z.string().regex(/^[A-Za-z0-9]+(?:[.-][A-Za-z0-9]+)*$/, 'a code');

const leaf = z.strictObject({
  name: id.optional(),
  fact: id,
  /** For a computation: inputs that other facts stand in for, such as anteversion in another definition. */
  with: z.record(id, id).optional(),
  operator: z.enum(OPERATORS),
  value: z.union([parameterReference, code, z.boolean(), z.array(code).min(1)]),
});

export type ConditionFile =
  | z.infer<typeof leaf>
  | { readonly name?: string | undefined; readonly all: readonly ConditionFile[] }
  | { readonly name?: string | undefined; readonly any: readonly ConditionFile[] }
  | { readonly name?: string | undefined; readonly not: ConditionFile }
  | { readonly condition: string };

/** json-rules-engine's condition format, without priorities, paths and empty groups. */
export const conditionSchema: z.ZodType<ConditionFile> = z.lazy(() =>
  z.union([
    leaf,
    z.strictObject({ name: id.optional(), all: z.array(conditionSchema).min(1) }),
    z.strictObject({ name: id.optional(), any: z.array(conditionSchema).min(1) }),
    z.strictObject({ name: id.optional(), not: conditionSchema }),
    z.strictObject({ condition: id }),
  ]),
);

export const namedConditionSchema = z.strictObject({ id, title: text, why: text, when: conditionSchema });

const input = z.union([parameterReference, z.strictObject({ computed: id }), z.strictObject({ fact: id })]);

/** Numbers a message shows beside the facts: a computation with other inputs, a slope, a matching head, a cup for a stem. */
export const computeSchema = z.union([
  z.strictObject({
    computation: id,
    with: z.record(id, input).optional(),
    /** Left out unless every replaced input is larger than the plan's own: a smaller head is no alternative. */
    onlyLarger: z.literal(true).optional(),
    /** Other motions than the computation's own, such as those of one posture. */
    motionSet: parameterReference.optional(),
  }),
  z.strictObject({
    change: z.strictObject({
      computation: id,
      per: id,
      step: parameterReference,
      with: z.record(id, input).optional(),
    }),
  }),
  z.strictObject({
    matching: z.strictObject({
      computation: id,
      vary: id,
      within: parameterReference,
      with: z.record(id, input),
      equals: id,
    }),
  }),
  z.strictObject({
    line: z.strictObject({
      /** A published line that couples cup and stem, with the members `sum` and `stemWeight`: what the cup would give. */
      parameter: id,
      stem: id,
      /** Left out above this: what lies beyond is told in other words. */
      atMost: parameterReference.optional(),
    }),
  }),
]);

export const findingSchema = z.strictObject({
  /** Name of the node of `when` that must be true; without it the finding fits always. */
  node: id.optional(),
  entries: z.array(z.enum(ENTRIES)).optional(),
  /** The construct it speaks of; either when left out. */
  construct: z.enum(['planned', 'in-place']).optional(),
  /** It fits only where one of these is recorded and that one is not known. */
  given: z.strictObject({ recorded: z.array(id).min(1), unknown: id }).optional(),
  /** It fits only where this holds too. It chooses the words of a rule that fires and never whether it does. */
  where: conditionSchema.optional(),
  /** Ordered from the fullest to the plainest: the first whose every placeholder is known is used. */
  summary: z.array(text).min(1),
  found: z.array(text).min(1),
  options: z.array(text).optional(),
  checks: z.array(text).optional(),
  before: z.array(z.strictObject({ fact: id.optional(), unless: id.optional(), says: text })).optional(),
  ready: text.optional(),
  sure: text,
  notKnown: z.array(z.strictObject({ fact: id, says: text })),
});

/** Whether a clinician has read the rule: nobody has unless it says who and when. */
const reviewSchema = z.discriminatedUnion('state', [
  z.strictObject({ state: z.literal('draft') }),
  z.strictObject({ state: z.literal('reviewed'), by: z.array(text).min(1), on: date }),
]);

const SHARED = { summary: true, found: true, sure: true, notKnown: true } as const;

/** A rule as it is written. */
export const writtenRuleSchema = z.strictObject({
  id,
  version,
  title: text,
  type: z.enum(['clinical', 'side', 'identity', 'data']),
  intent: z.enum(['planning', 'check']),
  indicator: z.enum(['info', 'warning', 'critical']),
  entries: z.array(z.enum(ENTRIES)).min(1),
  /**
   * `page`: told in the evaluation and its page, and never on a card. `line`: its summary is one line on the first card
   * of the same hip and construct, and without such a card it is told on the page only.
   */
  tells: z.enum(['page', 'line']).optional(),
  /** Rules whose card for the same hip and construct says it better: where one speaks, this one leaves the word to it. */
  yieldsTo: z.array(id).min(1).optional(),
  released: date.optional(),
  revised: z.array(date).min(1).optional(),
  review: reviewSchema.optional(),
  reviewBy: date,
  appliesWhen: conditionSchema,
  when: conditionSchema,
  compute: z.record(id, computeSchema).optional(),
  /** What may be behind it, in the order it is looked for: each a named condition that is so, is not, or stays open. */
  causes: z
    .array(z.strictObject({ condition: id, says: text }))
    .min(2)
    .optional(),
  /** What each finding says unless it says otherwise. */
  inEach: findingSchema.pick(SHARED).partial().optional(),
  findings: z.array(findingSchema.partial(SHARED)).min(1),
  messages: z.strictObject({ fires: text, doesNotFire: text, notApplicable: text, cannotTell: text }),
  /** Effects are listed, never combined: one line each, shown when its fact is recorded. */
  effects: z
    .array(
      z.strictObject({
        fact: id,
        /** Name of a node of `when` that must be true besides. */
        node: id.optional(),
        /** Entries it is told at; everywhere when left out. */
        entries: z.array(z.enum(ENTRIES)).optional(),
        parameter: id.optional(),
        says: text,
        /** What was counted or measured; effects on different endpoints are never listed as one. */
        endpoint: z.enum(ENDPOINTS),
        /** How long after what it was counted. */
        horizon: text,
        /** Who was studied. */
        population: text,
        citations: z.array(id),
      }),
    )
    .optional(),
  certainty: z.strictObject({
    mechanism: z.enum(['model', 'none']).optional(),
    prognosis: z.enum(CERTAINTIES).optional(),
    treatment: z.enum(CERTAINTIES).optional(),
    why: text,
  }),
  /** Who was not studied, what the model leaves out, when it is not meant. */
  limits: z.array(text).min(1).optional(),
  /** Kinds of data about a person that it uses otherwise than the rulebook says for all rules. */
  uses: z.partialRecord(z.enum(DATA_USES), dataUse).optional(),
  citations: z.array(z.strictObject({ key: id, where: text, supports: text })).optional(),
  basis: z.literal('common practice, no source').optional(),
});

/** A rule in which every finding is whole. */
export const ruleSchema = writtenRuleSchema.transform(({ inEach, findings, ...rule }, context) => ({
  ...rule,
  findings: findings.map((finding, index) => wholeFinding({ ...inEach, ...finding }, index, context)),
}));

function wholeFinding(
  { summary, found, sure, notKnown, ...finding }: z.infer<typeof writtenRuleSchema>['findings'][number],
  index: number,
  context: z.core.$RefinementCtx,
): z.infer<typeof findingSchema> {
  if (summary && found && sure !== undefined && notKnown)
    return { ...finding, summary, found, sure, notKnown };
  for (const [name, value] of Object.entries({ summary, found, sure, notKnown }))
    if (value === undefined)
      context.addIssue({ code: 'custom', path: ['findings', index, name], message: 'it here or in inEach' });
  return z.NEVER;
}

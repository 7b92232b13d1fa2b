import { z } from 'zod';
import { DATA_FINDING_KINDS, STAGES } from '../facts/definitions.js';
import { HISTORY_ROLES } from '../facts/knowledge.js';

/** The form of every file under `rules/`. JSON Schema for editors is generated from these definitions. */

const id = z.string().regex(/^[a-z0-9]+(?:[.-][a-z0-9]+)*$/, 'kebab-case');
const version = z.string().regex(/^\d+\.\d+\.\d+$/, 'major.minor.patch');
const date = z.iso.date();
const text = z.string().min(1);

export const PARAMETER_USES = ['threshold', 'default', 'tolerance', 'quoted', 'motion-set'] as const;
export const READ_AT = [
  'full text',
  'abstract',
  'secondary source',
  'common practice, no source',
  'proposal, no source',
  'derived here',
] as const;
export const CERTAINTIES = ['high', 'moderate', 'low', 'very low'] as const;

const pose = z.strictObject({
  name: text,
  flexion: z.number(),
  abduction: z.number(),
  externalRotation: z.number(),
});

export const parameterSchema = z.strictObject({
  id,
  value: z.union([
    z.number(),
    z.tuple([z.number(), z.number()]),
    z.array(pose).min(1),
    z.record(z.string(), z.union([z.number(), z.tuple([z.number(), z.number()])])),
  ]),
  unit: text,
  use: z.enum(PARAMETER_USES),
  readAt: z.enum(READ_AT),
  certainty: z.enum(CERTAINTIES),
  /** Records of the evidence dossier the value was taken from. */
  records: z.array(id),
  citations: z.array(id),
  why: text,
});

export const parameterGroupSchema = z.strictObject({
  id,
  kind: z.literal('parameters'),
  title: text,
  parameters: z.array(parameterSchema).min(1),
});

const parameterReference = z.strictObject({ parameter: id });

export const computationSchema = z.strictObject({
  id,
  kind: z.literal('computation'),
  version,
  title: text,
  unit: text,
  /** True when the result only rises or only falls with each input, so that its corners bound it. */
  monotone: z.boolean(),
  inputs: z
    .array(
      z.strictObject({
        fact: id,
        /** The stage the value must be of; a value of another stage counts as not known. */
        stage: z.enum(STAGES).optional(),
        whenMissing: z
          .strictObject({
            default: parameterReference,
            /** `plausible`: an outcome may rest on the default only if it is the same over the whole plausible range. */
            decideOver: z.enum(['plausible', 'default']),
            says: text,
          })
          .optional(),
      }),
    )
    .min(1),
  motionSet: parameterReference.optional(),
  citations: z.array(id),
});

export const citationSchema = z.strictObject({
  id,
  records: z.array(id).min(1),
  authors: text.nullable(),
  title: text.nullable(),
  journal: text.nullable(),
  year: z.number().int().nullable(),
  volume: text.nullable(),
  pages: text.nullable(),
  doi: text.nullable(),
  pmid: text.nullable(),
  pmcid: text.nullable(),
  short: text,
  readAt: z.enum(READ_AT),
  where: text,
  took: z.array(text).min(1),
  checked: text,
});

const factBase = { id, version, title: text };

export const factSchema = z.discriminatedUnion('kind', [
  z.strictObject({
    ...factBase,
    kind: z.literal('measure'),
    scope: z.enum(['patient', 'hip']),
    stages: z.array(z.enum(STAGES)).min(1),
    valueType: z.enum(['quantity', 'integer', 'code', 'boolean']),
    unit: text.optional(),
    values: z.array(id.or(z.enum(['I', 'II', 'III']))).optional(),
    components: z.array(id),
    repeats: z.boolean(),
    /** Besides Observation and questionnaire: a request's parameter (`order`), an implant's property (`device`). */
    carriers: z.array(z.enum(['order', 'device'])),
    /** Components whose geometry it is: all of them retained, it stays what it was. */
    partOf: z
      .array(z.enum(['cup', 'liner', 'head', 'stem']))
      .min(1)
      .optional(),
    plausible: parameterReference.optional(),
    conflict: parameterReference.optional(),
    measuringError: z
      .strictObject({
        byMethod: z.record(z.string(), parameterReference),
        otherwise: parameterReference,
        unknown: z.array(id),
      })
      .optional(),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('condition'),
    scope: z.enum(['patient', 'hip']),
    status: z.enum(['current', 'lifetime']),
    /** One of the two at least: codes of a Condition, codes of a completed Procedure. */
    valueSet: id.optional(),
    procedureValueSet: id.optional(),
    sitedValueSet: id.optional(),
    unclearValueSet: id.optional(),
    seventhCharacters: z.array(z.string().length(1)).optional(),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('observation'),
    scope: z.literal('patient'),
    valueSet: id,
    unit: text,
    plausible: parameterReference.optional(),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('operation'),
    scope: z.literal('hip'),
    values: z.array(id).min(1),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('derived'),
    scope: z.literal('hip'),
    valueType: z.enum(['quantity', 'code']),
    unit: text.optional(),
    values: z.array(id).optional(),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('finding'),
    scope: z.literal('hip'),
    finds: z.array(z.enum(DATA_FINDING_KINDS)).min(1),
    sets: z.array(text).min(1),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('history'),
    scope: z.literal('hip'),
    arthroplasties: z.array(z.enum(['primary', 'revision', 'conversion', 'unspecified'])).min(1),
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('episodes'),
    scope: z.literal('hip'),
    of: z.literal('closed-reductions'),
    valueType: z.literal('integer'),
    unit: text,
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('carried-out'),
    scope: z.literal('hip'),
    of: id,
    unit: text,
  }),
  z.strictObject({
    ...factBase,
    kind: z.literal('presence'),
    scope: z.literal('hip'),
    of: z.literal('measures'),
    sets: z.array(text).min(1),
  }),
]);

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

const leaf = z.strictObject({
  name: id.optional(),
  fact: id,
  /** For a computation: inputs that other facts stand in for, such as anteversion in another definition. */
  with: z.record(id, id).optional(),
  operator: z.enum(OPERATORS),
  value: z.union([parameterReference, id, z.boolean(), z.array(id).min(1)]),
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

const ENTRIES = ['appointment-book', 'order-select', 'order-sign', 'patient-view'] as const;

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

export const ruleSchema = z.strictObject({
  id,
  version,
  title: text,
  type: z.enum(['clinical', 'side', 'identity', 'data']),
  intent: z.enum(['planning', 'check']),
  indicator: z.enum(['info', 'warning', 'critical']),
  entries: z.array(z.enum(ENTRIES)).min(1),
  reviewBy: date,
  appliesWhen: conditionSchema,
  when: conditionSchema,
  compute: z.record(id, computeSchema).optional(),
  findings: z.array(findingSchema).min(1),
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
  citations: z.array(z.strictObject({ key: id, where: text, supports: text })).optional(),
  basis: z.literal('common practice, no source').optional(),
});

const answerSchema = z.strictObject({
  kept: text,
  review: text,
  /** Codes of the override-reason code system, at most six. */
  reasons: z
    .array(z.strictObject({ code: id, display: text }))
    .min(1)
    .max(6),
});

const operationKind = z.enum(['primary', 'revision', 'conversion', 'unspecified', 'other-hip', 'implant']);

const serviceSchema = z.strictObject({ title: text, description: text, usageRequirements: text });

const remarksSchema = z.strictObject({
  preliminary: text,
  planSentAsFinal: text,
  patientFromQuery: text,
  sideInferred: text,
  retained: text,
  angleDefinitionNotStated: text,
  signNotConfirmed: text,
  takenAsAnteverted: text,
  referencePlaneNotStated: text,
  singleArticulationAssumed: text,
  versionReferenceNotStated: text,
  changeReadFromSpinopelvicTilt: text,
  changeReadFromAppTilt: text,
  pelvicAnglesDiffer: text,
  diagnosisNotConfirmed: text,
  sideNotStated: text,
  unconfirmed: text,
});

export const rulebookSchema = z.strictObject({
  id: z.literal('kotyle'),
  version: z.string().regex(/^\d{4}\.\d{1,2}\.\d+$/, 'year.month.number'),
  title: text,
  status: z.enum(['draft', 'active', 'retired']),
  experimental: z.boolean(),
  date,
  label: text,
  deferral: text,
  /** What a reader calls each prefetch key. */
  sets: z.record(z.string(), text),
  /** What a reader calls a coded value. */
  terms: z.record(z.string(), text),
  /** Words of the plan questionnaire. */
  hipPlan: z.strictObject({ title: text, description: text, hip: text, side: text }),
  /** Facts that say that a replaced hip has come out. */
  dislocationFacts: z.array(id).min(1),
  /** Words of the card that tells what the ceiling left out. */
  moreAdvisories: z.strictObject({ summary: text, found: text, checks: z.array(text).min(1), sure: text }),
  /** Most advisories one answer shows, critical ones apart. */
  ceilings: z.strictObject({
    'appointment-book': z.number().int().min(1),
    'order-select': z.number().int().min(1),
    'order-sign': z.number().int().min(1),
    'patient-view': z.number().int().min(1),
  }),
  /** What a reader may answer: two suggestions without actions, and reasons for passing a card over. */
  answers: z.strictObject({ planning: answerSchema, check: answerSchema }),
  /** What a reader is told about a value that carries a doubt. */
  remarks: remarksSchema,
  dataGap: z.strictObject({
    summary: text,
    found: text,
    checks: z.array(text).min(1),
    sure: text,
    broken: text,
    undecided: text,
  }),
  services: z.strictObject({ booking: serviceSchema, order: serviceSchema, chart: serviceSchema }),
  /** What a reader is told of a site's maps and defaults. */
  site: z.strictObject({
    remarks: z.strictObject({ qualifiers: z.record(id, text), overruled: text, default: text }),
  }),
  systems: z.strictObject({
    overrideReason: z.url(),
    measure: z.url(),
    measureValue: z.url(),
    stage: z.url(),
    group: text,
  }),
  /** Facts that only a replaced hip can have. */
  implantedBy: z.array(id),
  methodOrder: z.array(id).min(1),
  /** Methods that show which way a cup faces. */
  methodsShowingSign: z.array(id).min(1),
  qualifiers: z.record(id, z.union([z.literal('boolean'), z.array(id).min(1)])),
  operations: z.record(id, operationKind),
  appointmentOperations: z.record(id, operationKind),
  /** What a value set means in the history of operations, beside the kind of operation above. */
  historyOperations: z.record(id, z.enum(HISTORY_ROLES)),
  changes: z.array(z.strictObject({ version: text, date, says: text })).min(1),
});

const coding = z.looseObject({ code: text, display: text.optional() });

/** The part of a FHIR R4 ValueSet that matching reads; the rest is kept for publication. */
export const valueSetSchema = z.looseObject({
  resourceType: z.literal('ValueSet'),
  id,
  url: z.url(),
  version: text,
  title: text,
  status: z.enum(['draft', 'active', 'retired']),
  compose: z
    .strictObject({
      include: z
        .array(
          z.looseObject({
            system: z.url(),
            concept: z.array(coding).optional(),
            filter: z
              .array(z.strictObject({ property: z.literal('concept'), op: z.literal('is-a'), value: text }))
              .optional(),
          }),
        )
        .min(1),
      exclude: z
        .array(
          z.looseObject({
            system: z.url().optional(),
            concept: z.array(coding).optional(),
            filter: z
              .array(z.strictObject({ property: z.literal('concept'), op: z.literal('is-a'), value: text }))
              .optional(),
            valueSet: z.array(z.url()).optional(),
          }),
        )
        .optional(),
    })
    .optional(),
});

/** The part of a FHIR R4 CodeSystem that is checked; the rest is kept for publication. */
export const codeSystemSchema = z.looseObject({
  resourceType: z.literal('CodeSystem'),
  id,
  url: z.url(),
  version: text,
  concept: z.array(coding).min(1),
});

const side = z.enum(['left', 'right', 'bilateral']);

export const icdLateralitySchema = z.looseObject({
  system: z.url(),
  families: z.array(
    z.looseObject({
      prefix: text,
      position: z.number().int().optional(),
      sides: z.record(z.string(), side).optional(),
      codes: z.record(z.string(), side).optional(),
    }),
  ),
});

export const snomedLateralitySchema = z.looseObject({
  system: z.url(),
  sidedCodes: z.record(z.string(), side),
  sidedSites: z.record(z.string(), side),
  hipSites: z.array(text),
  sides: z.record(z.string(), side),
});

export const aliasesSchema = z.record(z.url(), z.array(text));

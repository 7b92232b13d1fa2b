import { z } from 'zod';
import { HISTORY_ROLES } from '../facts/knowledge.js';
import { DATA_USES, dataUse, date, id, text } from './schema-parts.js';

/** The form of the rulebook's own file: its words, systems and lists. */

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

/** What a site may decide about rules and limits, and how it is told. */
const governanceSchema = z.strictObject({
  /** Rules that no site can turn off: whose side and whose record it is, values that can't be, data not read. */
  locked: z.array(id).min(1),
  words: z.strictObject({
    /** What stands before everything a site set for itself. */
    ofSite: text,
    /** A limit of the site inside a sentence, and in a line of its own. */
    localValue: text,
    limit: text,
    limitEnded: text,
    settingEnded: text,
    note: text,
  }),
});

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
  /** Source attributes of every rule: who turned the sources into rules, who paid for it, which data about a person are used. */
  developer: text,
  funding: text,
  uses: z.record(z.enum(DATA_USES), dataUse),
  /** What holds for every rule: whom it is meant for, and what it never says. */
  limits: z.array(text).min(1).optional(),
  /** What a reader calls each prefetch key. */
  sets: z.record(z.string(), text),
  /** What a reader calls a coded value. */
  terms: z.record(z.string(), text),
  /** Words of the plan questionnaire. */
  hipPlan: z.strictObject({ title: text, description: text, hip: text, side: text }),
  /** Facts that say that a replaced hip has come out. */
  dislocationFacts: z.array(id).min(1),
  /** Words of the card that tells what the ceiling left out. */
  moreAdvisories: z.strictObject({
    summary: text,
    found: text,
    checks: z.array(text).min(1),
    sure: text,
    notKnown: text,
  }),
  /** Rules whose cards come first among those of their indicator, and are the last a ceiling leaves out. */
  first: z.array(id),
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
    remarks: z.strictObject({
      qualifiers: z.record(id, text),
      overruled: text,
      default: text,
    }),
  }),
  /** Left out in rulebooks from before a site could: there it may decide nothing about single rules and limits. */
  governance: governanceSchema.optional(),
  systems: z.strictObject({
    overrideReason: z.url(),
    measure: z.url(),
    measureValue: z.url(),
    diagnosis: z.url(),
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

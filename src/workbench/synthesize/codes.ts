import { z } from 'zod';
import { SHIPPED } from '../shipped-fixtures.js';
import { readShipped } from '../checked-file.js';

const sides = z.strictObject({ right: z.string(), left: z.string() });

const diagnosis = z.strictObject({
  /** One for each side where ICD-10-CM has one. */
  icd10cm: z.union([z.string(), sides]),
  /** Told with the body site beside it. */
  snomed: z.string().optional(),
  /** Belongs to one hip. */
  isSided: z.boolean(),
});

const procedure = z.strictObject({ icd10pcs: z.union([z.string(), sides]), snomed: z.string().optional() });

/** Diagnoses a hip may have; those the rulebook reads stand in its value sets of the same name. */
const DIAGNOSIS_NAMES = [
  'hip-osteoarthritis',
  'hip-dysplasia',
  'femoral-neck-fracture',
  'failed-hip-fixation',
  'femoral-head-osteonecrosis',
  'slipped-capital-femoral-epiphysis',
  'perthes-disease',
  'prosthesis-dislocation',
  'prosthesis-loosening',
  'prosthesis-infection',
  'prosthesis-wear',
  'periprosthetic-fracture',
  'hip-prosthesis-present',
  'paresis',
  'parkinson-disease',
  'dementia',
  'multiple-sclerosis',
  'cerebral-palsy',
  'muscular-dystrophy',
  'spine-deformity',
  'spine-ankylosis',
  'lumbar-spinal-stenosis',
  'lumbar-fusion',
  'hypermobility-syndrome',
  'depression',
  'stroke-history-no-deficit',
  'fusion-site-unclear',
  'irradiation-site-unclear',
  'hip-muscle-injury-unclear',
  'metal-debris-unclear',
] as const;

/** Diagnoses no rule reads. */
const OTHER_DIAGNOSIS_NAMES = [
  'pain',
  'inflammatory-arthritis',
  'epilepsy',
  'alcohol',
  'lumbar-degeneration',
] as const;

const PROCEDURE_NAMES = [
  'total-hip-primary',
  'closed-reduction-of-prosthesis',
  'hip-fracture-fixation',
  'lumbar-spinal-fusion',
  'long-lumbar-spinal-fusion',
] as const;

/** The form of `fixtures/synthetic/codes.json`: how records code what an invented hip has. */
const codesSchema = z.strictObject({
  diagnoses: z.record(z.enum(DIAGNOSIS_NAMES), diagnosis),
  otherDiagnoses: z.record(z.enum(OTHER_DIAGNOSIS_NAMES), diagnosis),
  /** Noise. */
  unrelated: z.strictObject({
    diagnoses: z.array(z.string()).min(1),
    procedures: z.array(z.string()).min(1),
    observations: z
      .array(z.strictObject({ code: z.string(), unit: z.string(), from: z.number(), to: z.number() }))
      .min(1),
  }),
  /** Operations in SNOMED CT; that of a conversion stands in the rulebook's SNOMED overlay (rules/NOTICE.md). */
  orders: z.strictObject({ primary: z.string(), revision: z.string(), conversion: z.string() }),
  procedures: z.record(z.enum(PROCEDURE_NAMES), procedure),
  hipSites: sides,
  /** In LOINC. */
  body: z.strictObject({ height: z.string(), weight: z.string(), massIndex: z.string() }),
});

export type DiagnosisCodes = z.infer<typeof diagnosis>;
export type ProcedureCodes = z.infer<typeof procedure>;

export const {
  diagnoses: DIAGNOSES,
  otherDiagnoses: OTHER_DIAGNOSES,
  unrelated: UNRELATED,
  orders: ORDERS,
  procedures: PROCEDURES,
  hipSites: HIP_SITES,
  body: BODY,
} = readShipped(SHIPPED.recordCodes, codesSchema);

export const LOINC = 'http://loinc.org';
const OWN = 'https://kotyle.example/fhir/CodeSystem';
export const HIP_MEASURE = `${OWN}/hip-measure`;
export const HIP_MEASURE_VALUE = `${OWN}/hip-measure-value`;
export const MEASURE_STAGE = `${OWN}/measure-stage`;
export const MEASURE_GROUP = `${OWN}/measure-group`;

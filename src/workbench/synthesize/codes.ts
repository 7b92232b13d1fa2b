import type { SyntheticSide } from './truth.js';

/** Codes of a diagnosis: one for each side where ICD-10-CM has one, SNOMED CT with the body site beside it. */
export interface DiagnosisCodes {
  readonly icd10cm: string | Readonly<Record<SyntheticSide, string>>;
  readonly snomed?: string;
  /** Belongs to one hip. */
  readonly isSided: boolean;
}

const sided = (right: string, left: string, snomed?: string): DiagnosisCodes => ({
  icd10cm: { right, left },
  ...(snomed !== undefined && { snomed }),
  isSided: true,
});
const plain = (icd10cm: string, snomed?: string): DiagnosisCodes => ({
  icd10cm,
  ...(snomed !== undefined && { snomed }),
  isSided: false,
});

/** Diagnoses as records code them. Those the rulebook reads stand in its value sets of the same name. */
export const DIAGNOSES = {
  'hip-osteoarthritis': sided('M16.11', 'M16.12', '239872002'),
  'hip-dysplasia': sided('M16.31', 'M16.32', '52781008'),
  'femoral-neck-fracture': sided('S72.001A', 'S72.002A', '5913000'),
  'failed-hip-fixation': sided('S72.001K', 'S72.002K'),
  'femoral-head-osteonecrosis': sided('M87.051', 'M87.052', '203476003'),
  'slipped-capital-femoral-epiphysis': sided('M93.021', 'M93.022', '26460006'),
  'perthes-disease': sided('M91.11', 'M91.12'),
  'prosthesis-dislocation': sided('T84.020A', 'T84.021A', '314201008'),
  'prosthesis-loosening': sided('T84.030A', 'T84.031A'),
  'prosthesis-infection': sided('T84.51XA', 'T84.52XA'),
  'prosthesis-wear': sided('T84.060A', 'T84.061A'),
  'periprosthetic-fracture': sided('M97.01XA', 'M97.02XA'),
  'hip-prosthesis-present': sided('Z96.641', 'Z96.642'),
  paresis: { icd10cm: { right: 'G83.11', left: 'G83.14' }, isSided: true },
  'parkinson-disease': plain('G20.A1', '49049000'),
  dementia: plain('F03.90', '52448006'),
  'multiple-sclerosis': plain('G35', '24700007'),
  'cerebral-palsy': plain('G80.9', '128188000'),
  'muscular-dystrophy': plain('G71.00', '73297009'),
  'spine-deformity': plain('M41.9', '298382003'),
  'spine-ankylosis': plain('M45.9', '9631008'),
  'lumbar-spinal-stenosis': plain('M48.061', '18347007'),
  'lumbar-fusion': plain('M43.26'),
  'hypermobility-syndrome': plain('M35.7', '398114001'),
  depression: plain('F32.A', '35489007'),
  'stroke-history-no-deficit': plain('Z86.73'),
  'fusion-site-unclear': plain('Z98.1', '55705006'),
  'irradiation-site-unclear': plain('Z92.3', '429479009'),
  'hip-muscle-injury-unclear': sided('S76.011A', 'S76.012A'),
  'metal-debris-unclear': plain('T84.89XA'),
} as const satisfies Readonly<Record<string, DiagnosisCodes>>;

/** Diagnoses no rule reads. */
export const OTHER_DIAGNOSES = {
  pain: plain('T84.84XA'),
  'inflammatory-arthritis': sided('M05.751', 'M05.752', '69896004'),
  epilepsy: plain('G40.909', '84757009'),
  alcohol: plain('F10.20'),
  'lumbar-degeneration': plain('M47.816'),
} as const satisfies Readonly<Record<string, DiagnosisCodes>>;

/** Noise: blood pressure, sugar, fats, thyroid, reflux, lung, asthma, lens, knee, rhythm, kidney, back pain, ankle. */
export const UNRELATED_DIAGNOSES: readonly string[] = [
  'I10',
  'E11.9',
  'E78.5',
  'E03.9',
  'K21.9',
  'J44.9',
  'J45.909',
  'H25.9',
  'M17.11',
  'I48.91',
  'N18.30',
  'M54.50',
  'M19.072',
];

/** Noise in ICD-10-PCS: appendix, gallbladder, right and left knee, lens, hernia. */
export const UNRELATED_PROCEDURES: readonly string[] = [
  '0DTJ4ZZ',
  '0FT44ZZ',
  '0SRC0J9',
  '0SRD0J9',
  '08RJ3JZ',
  '0YU54JZ',
];

/** Noise in LOINC: hemoglobin, creatinine, hemoglobin A1c, heart rate; with unit and a usual range. */
export const UNRELATED_OBSERVATIONS: readonly (readonly [
  code: string,
  unit: string,
  from: number,
  to: number,
])[] = [
  ['718-7', 'g/dL', 11, 17],
  ['2160-0', 'mg/dL', 0.6, 1.4],
  ['4548-4', '%', 5, 8],
  ['8867-4', '/min', 55, 95],
];

/** Operations, ordered in SNOMED CT; that of a conversion stands in the rulebook's SNOMED overlay (rules/NOTICE.md). */
export const ORDERS = {
  primary: '52734007',
  revision: '112727005',
  conversion: '449039004',
} as const;

export interface ProcedureCodes {
  readonly icd10pcs: string | Readonly<Record<SyntheticSide, string>>;
  readonly snomed?: string;
}

/** Earlier operations as records code them. */
export const PROCEDURES = {
  'total-hip-primary': { icd10pcs: { right: '0SR90JA', left: '0SRB0JA' }, snomed: '52734007' },
  'closed-reduction-of-prosthesis': { icd10pcs: { right: '0SW9XJZ', left: '0SWBXJZ' } },
  'hip-fracture-fixation': { icd10pcs: { right: '0QS604Z', left: '0QS704Z' }, snomed: '265132005' },
  'lumbar-spinal-fusion': { icd10pcs: '0SG00AJ', snomed: '50172003' },
  'long-lumbar-spinal-fusion': { icd10pcs: '0SG10AJ', snomed: '50172003' },
} as const satisfies Readonly<Record<string, ProcedureCodes>>;

export const HIP_SITES: Readonly<Record<SyntheticSide, string>> = {
  left: '287679003',
  right: '287579007',
};

export const LOINC = 'http://loinc.org';
const OWN = 'https://kotyle.example/fhir/CodeSystem';
export const HIP_MEASURE = `${OWN}/hip-measure`;
export const HIP_MEASURE_VALUE = `${OWN}/hip-measure-value`;
export const MEASURE_STAGE = `${OWN}/measure-stage`;
export const MEASURE_GROUP = `${OWN}/measure-group`;

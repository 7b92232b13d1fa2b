import { BODY, DIAGNOSES, OTHER_DIAGNOSES, PROCEDURES, UNRELATED } from './codes.js';
import type { DiagnosisCodes } from './codes.js';
import type { RecordWriter } from './record-writer.js';
import { daysBefore, toStep, yearsBefore } from './sampling.js';
import type { Sampling } from './sampling.js';
import type { Comorbidity, InPlace, Indication, SyntheticSide, SyntheticTruth } from './truth.js';

const MOST_YEARS_ILL = 12;
/** A broken hip is operated on within days. */
const DAYS_SINCE_FRACTURE = 2;
const DAYS_SINCE_FIXATION = 300;

/** Problem list, earlier operations and body measures: what a record holds at booking. */
export function writeHistory(writer: RecordWriter, sampling: Sampling, truth: SyntheticTruth): void {
  writeIndication(writer, sampling, truth);
  writeComorbidity(writer, sampling, truth);
  writeEarlierOperations(writer, sampling, truth);
  writeOtherHip(writer, sampling, truth);
  writeBody(writer, sampling, truth);
  writeUnrelated(writer, sampling);
  writeWithdrawn(writer, sampling, truth);
}

const INDICATIONS: Readonly<Record<Indication, DiagnosisCodes>> = {
  osteoarthritis: DIAGNOSES['hip-osteoarthritis'],
  dysplasia: DIAGNOSES['hip-dysplasia'],
  'femoral-neck-fracture': DIAGNOSES['femoral-neck-fracture'],
  'failed-fixation': DIAGNOSES['failed-hip-fixation'],
  osteonecrosis: DIAGNOSES['femoral-head-osteonecrosis'],
  'inflammatory-arthritis': OTHER_DIAGNOSES['inflammatory-arthritis'],
  'slipped-epiphysis': DIAGNOSES['slipped-capital-femoral-epiphysis'],
  perthes: DIAGNOSES['perthes-disease'],
  instability: DIAGNOSES['prosthesis-dislocation'],
  loosening: DIAGNOSES['prosthesis-loosening'],
  infection: DIAGNOSES['prosthesis-infection'],
  wear: DIAGNOSES['prosthesis-wear'],
  'periprosthetic-fracture': DIAGNOSES['periprosthetic-fracture'],
  'metal-reaction': DIAGNOSES['metal-debris-unclear'],
  pain: OTHER_DIAGNOSES.pain,
};

function writeIndication(writer: RecordWriter, sampling: Sampling, { operation }: SyntheticTruth): void {
  const { indication, side, kind } = operation;
  const isFracture = indication === 'femoral-neck-fracture' || indication === 'periprosthetic-fracture';
  const onset = isFracture
    ? daysBefore(sampling.on, DAYS_SINCE_FRACTURE)
    : onsetOf(sampling, 'indication', kind === 'primary' ? MOST_YEARS_ILL : 1);
  writer.diagnosis(INDICATIONS[indication], onset, side);
}

/** A day within the last years. */
function onsetOf({ draws, on }: Sampling, name: string, years = MOST_YEARS_ILL): string {
  return yearsBefore(on, Math.max(0.1, years * draws.uniform(`onset.${name}`)));
}

const COMORBIDITIES = [
  ['isParkinson', DIAGNOSES['parkinson-disease']],
  ['isDemented', DIAGNOSES.dementia],
  ['isMultipleSclerosis', DIAGNOSES['multiple-sclerosis']],
  ['isCerebralPalsy', DIAGNOSES['cerebral-palsy']],
  ['isMuscularDystrophy', DIAGNOSES['muscular-dystrophy']],
  ['isParetic', DIAGNOSES.paresis],
  ['isStrokeWithoutDeficit', DIAGNOSES['stroke-history-no-deficit']],
  ['isDepressed', DIAGNOSES.depression],
  ['isSpineDeformed', DIAGNOSES['spine-deformity']],
  ['isSpineAnkylosed', DIAGNOSES['spine-ankylosis']],
  ['isLumbarStenotic', DIAGNOSES['lumbar-spinal-stenosis']],
  ['isPelvisIrradiated', DIAGNOSES['irradiation-site-unclear']],
  ['isHypermobile', DIAGNOSES['hypermobility-syndrome']],
  ['isEpileptic', OTHER_DIAGNOSES.epilepsy],
  ['isAlcoholDependent', OTHER_DIAGNOSES.alcohol],
  ['isLumbarDegenerated', OTHER_DIAGNOSES['lumbar-degeneration']],
] as const satisfies readonly (readonly [keyof Comorbidity, DiagnosisCodes])[];

function writeComorbidity(
  writer: RecordWriter,
  sampling: Sampling,
  { comorbidity, operation }: SyntheticTruth,
): void {
  for (const [name, codes] of COMORBIDITIES)
    if (comorbidity[name]) writer.diagnosis(codes, onsetOf(sampling, name), operation.side);
  writeFusion(writer, sampling, comorbidity);
  const { draws, population } = sampling;
  const isKnown = draws.isChosen('record.tear', population.record.tearOnProblemList.value);
  if (comorbidity.abductors === 'torn' && isKnown)
    writer.diagnosis(DIAGNOSES['hip-muscle-injury-unclear'], onsetOf(sampling, 'tear', 2), operation.side);
}

/** A fusion stands as an operation, as a diagnosis, or only as fusion of some joint. */
function writeFusion(writer: RecordWriter, sampling: Sampling, { fusedLevels }: Comorbidity): void {
  if (fusedLevels === undefined) return;
  const { draws, population } = sampling;
  const on = onsetOf(sampling, 'fusion');
  if (draws.isChosen('record.vague-fusion', population.record.vagueFusionCode.value))
    writer.diagnosis(DIAGNOSES['fusion-site-unclear'], on);
  else if (draws.isChosen('record.fusion-as-diagnosis', population.record.fusionAsDiagnosis.value))
    writer.diagnosis(DIAGNOSES['lumbar-fusion'], on);
  else
    writer.procedure(
      PROCEDURES[fusedLevels === 'one-or-two' ? 'lumbar-spinal-fusion' : 'long-lumbar-spinal-fusion'],
      on,
    );
}

function writeEarlierOperations(
  writer: RecordWriter,
  sampling: Sampling,
  { operation, inPlace }: SyntheticTruth,
): void {
  const { side, kind } = operation;
  if (kind === 'conversion')
    writer.procedure(PROCEDURES['hip-fracture-fixation'], daysBefore(sampling.on, DAYS_SINCE_FIXATION), side);
  if (!inPlace) return;
  writer.procedure(PROCEDURES['total-hip-primary'], yearsBefore(sampling.on, inPlace.yearsInPlace), side);
  writer.diagnosis(DIAGNOSES['hip-prosthesis-present'], yearsBefore(sampling.on, inPlace.yearsInPlace), side);
  for (const years of episodeYears(inPlace))
    writer.procedure(PROCEDURES['closed-reduction-of-prosthesis'], yearsBefore(sampling.on, years), side);
}

/** How long ago each dislocation was reduced: evenly over the last years in place. */
function episodeYears(inPlace: InPlace): readonly number[] {
  const episodes = inPlace['dislocation-count'];
  const span = Math.min(LONGEST_UNSTABLE_YEARS, inPlace.yearsInPlace * 0.8);
  return Array.from({ length: episodes }, (_, index) => (span * (episodes - index)) / (episodes + 1));
}

const LONGEST_UNSTABLE_YEARS = 4;

function writeOtherHip(
  writer: RecordWriter,
  sampling: Sampling,
  { operation, otherHip }: SyntheticTruth,
): void {
  const { draws, population, on } = sampling;
  const other: SyntheticSide = operation.side === 'left' ? 'right' : 'left';
  if (otherHip) {
    writer.procedure(PROCEDURES['total-hip-primary'], yearsBefore(on, otherHip.yearsInPlace), other);
    writer.diagnosis(DIAGNOSES['hip-prosthesis-present'], yearsBefore(on, otherHip.yearsInPlace), other);
  } else if (draws.isChosen('record.other-arthritis', population.record.otherHipArthritis.value))
    writer.diagnosis(DIAGNOSES['hip-osteoarthritis'], onsetOf(sampling, 'other-arthritis'), other);
}

const DAYS_SINCE_VISIT = 35;

function writeBody(
  writer: RecordWriter,
  { draws, population, on }: Sampling,
  { person }: SyntheticTruth,
): void {
  if (!draws.isChosen('record.body', population.record.bodyMeasures.value)) return;
  const day = daysBefore(on, DAYS_SINCE_VISIT);
  writer.observation(BODY.height, person.heightCm, 'cm', day);
  writer.observation(BODY.weight, person.weightKg, 'kg', day);
  writer.observation(BODY.massIndex, person.bodyMassIndex, 'kg/m2', day);
}

function writeUnrelated(writer: RecordWriter, sampling: Sampling): void {
  const { draws, population, on } = sampling;
  const { unrelatedDiagnoses, unrelatedProcedures, unrelatedObservations } = population.record;
  for (let turn = draws.count('noise.diagnoses', unrelatedDiagnoses.value); turn > 0; turn -= 1) {
    const icd10cm = draws.pick('noise.diagnosis', UNRELATED.diagnoses, turn);
    writer.diagnosis({ icd10cm, isSided: false }, onsetOf(sampling, `noise-${turn}`));
  }
  for (let turn = draws.count('noise.procedures', unrelatedProcedures.value); turn > 0; turn -= 1) {
    const icd10pcs = draws.pick('noise.procedure', UNRELATED.procedures, turn);
    writer.procedure({ icd10pcs }, onsetOf(sampling, `noise-procedure-${turn}`));
  }
  for (let turn = draws.count('noise.observations', unrelatedObservations.value); turn > 0; turn -= 1) {
    const { code, unit, from, to } = draws.pick('noise.observation', UNRELATED.observations, turn);
    const value = toStep(from + (to - from) * draws.uniform('noise.value', turn), 0.1);
    writer.observation(code, value, unit, daysBefore(on, DAYS_SINCE_VISIT + turn));
  }
}

/** A diagnosis that would have mattered and was taken back. */
function writeWithdrawn(
  writer: RecordWriter,
  sampling: Sampling,
  { comorbidity, operation }: SyntheticTruth,
): void {
  const { draws, population } = sampling;
  if (!draws.isChosen('record.withdrawn', population.record.withdrawnDiagnosis.value)) return;
  const candidates: readonly DiagnosisCodes[] = [
    ...(comorbidity.isParkinson ? [] : [DIAGNOSES['parkinson-disease']]),
    ...(comorbidity.isDemented ? [] : [DIAGNOSES.dementia]),
    ...(comorbidity.isMultipleSclerosis ? [] : [DIAGNOSES['multiple-sclerosis']]),
    ...(comorbidity.fusedLevels ? [] : [DIAGNOSES['lumbar-fusion']]),
  ];
  writer.diagnosis(
    draws.pick('record.withdrawn-diagnosis', candidates),
    onsetOf(sampling, 'withdrawn'),
    operation.side,
    draws.isChosen('record.refuted', population.record.refutedWhenWithdrawn.value)
      ? 'refuted'
      : 'entered-in-error',
  );
}

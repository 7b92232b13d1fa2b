import type { JsonObject } from '../../fhir/json.js';
import { ORDERS } from './codes.js';
import { writeHistory } from './record-history.js';
import { writeAllMeasures, writeFewMeasures } from './record-measures.js';
import { RecordWriter } from './record-writer.js';
import type { CodeStyle } from './record-writer.js';
import { daysBefore } from './sampling.js';
import type { Sampling } from './sampling.js';
import { drawTruth, samplings } from './synthesize-truths.js';
import type { TruthOptions } from './synthesize-truths.js';
import type { SyntheticTruth } from './truth.js';

export const PROFILES = ['record-like', 'fully-planned'] as const;

/** How much of the truth a record holds: what records hold at booking, or everything measured and planned. */
export type Profile = (typeof PROFILES)[number];

export interface HipOptions extends TruthOptions {
  readonly profile: Profile;
}

/** An invented patient: nobody's data. */
export interface SyntheticPatient {
  readonly id: string;
  /** What the record holds, as one collection. */
  readonly bundle: JsonObject;
  readonly truth: SyntheticTruth;
}

/**
 * Invented hips with their records, one after another, holding none. The truth of a patient does not depend on the
 * profile: the same seed and index is the same hip, recorded sparsely or wholly.
 */
export function* synthesizeHips(options: HipOptions): Generator<SyntheticPatient, void, undefined> {
  for (const sampling of samplings(options)) {
    const truth = drawTruth(sampling);
    const id = `synthetic-${options.seed}-${sampling.index}`;
    yield { id, bundle: writeRecord(id, sampling, truth, options.profile), truth };
  }
}

const DAYS_SINCE_ORDER = 21;

function writeRecord(id: string, sampling: Sampling, truth: SyntheticTruth, profile: Profile): JsonObject {
  const { draws, population, on } = sampling;
  const { person, operation } = truth;
  const writer = new RecordWriter(id, drawStyle(sampling));
  writer.patient(person.sex, person.birthDate);
  writeHistory(writer, sampling, truth);
  const isSided =
    profile === 'fully-planned' || draws.isChosen('record.side', population.record.sideOnOrder.value);
  writer.order(
    ORDERS[operation.kind],
    daysBefore(on, DAYS_SINCE_ORDER),
    isSided ? operation.side : undefined,
  );
  writer.visit();
  if (profile === 'fully-planned') writeAllMeasures(writer, sampling, truth);
  else writeFewMeasures(writer, sampling, truth);
  return writer.bundle();
}

function drawStyle({ draws, population: { record } }: Sampling): CodeStyle {
  const chance = draws.uniform('record.style');
  if (chance < record.snomed.value) return 'snomed';
  return chance < record.snomed.value + record.bothCodeSystems.value ? 'both' : 'icd-10';
}

import type { Population, Spread } from './population-schema.js';
import { drawWithin } from './sampling.js';
import type { Sampling } from './sampling.js';
import type { Comorbidity, Femur, Operation, Person } from './truth.js';

/** The hip before any replacement. */
export function drawFemur(
  sampling: Sampling,
  person: Person,
  operation: Operation,
  { abductors }: Comorbidity,
): Femur {
  const { draws, population } = sampling;
  const { femur, comorbidity, limits } = population;
  const version = drawWithin(
    sampling,
    'femur.version',
    versionLaw(population, person, operation),
    limits['native-femoral-anteversion'],
  );
  const length =
    operation.indication === 'dysplasia' ? femur.lengthDifferenceInDysplasia : femur.lengthDifference;
  const draw = (name: string, law: Spread, limit: keyof Population['limits']): number =>
    drawWithin(sampling, `femur.${name}`, law, limits[limit]);
  return {
    'native-femoral-anteversion': version,
    'native-femoral-offset': draw(
      'offset',
      offsetLaw(population, person, operation),
      'native-femoral-offset',
    ),
    'leg-length-discrepancy': draw('length', length, 'leg-length-discrepancy'),
    'global-offset-difference': draw(
      'global-offset',
      femur.globalOffsetDifference,
      'global-offset-difference',
    ),
    'native-flexion': draw('flexion', femur.flexion, 'native-flexion'),
    'native-adduction': draw('adduction', femur.adduction, 'native-adduction'),
    'native-internal-rotation': draw('rotation', femur.internalRotation, 'native-internal-rotation'),
    'aiis-prominence': draws.choice('femur.iliac-spine', femur.iliacSpine.shares),
    'abductor-strength': Number(
      draws.choice<string>('femur.strength', comorbidity.strength[abductors].shares),
    ),
    stemVersion: drawStemVersion(sampling, version),
  };
}

function versionLaw({ femur }: Population, { sex }: Person, { indication, croweType }: Operation): Spread {
  if (croweType !== undefined) return femur.versionInDysplasia[croweType];
  if (indication === 'slipped-epiphysis') return femur.versionInSlippedEpiphysis;
  return sex === 'female' ? femur.versionOfWomen : femur.versionOfMen;
}

function offsetLaw({ femur: { offset } }: Population, { sex }: Person, { side }: Operation): Spread {
  if (sex === 'female') return side === 'left' ? offset.womenLeft : offset.womenRight;
  return side === 'left' ? offset.menLeft : offset.menRight;
}

/** A straight stem follows the femur only in part: by the correlation of the two and the spread of stems. */
function drawStemVersion(sampling: Sampling, native: number): number {
  const { femur, patient, limits } = sampling.population;
  const women = patient.female.value;
  const mean = women * femur.versionOfWomen.mean + (1 - women) * femur.versionOfMen.mean;
  const between = Math.sqrt(women * (1 - women)) * (femur.versionOfWomen.mean - femur.versionOfMen.mean);
  const nativeSd = Math.hypot(femur.versionOfWomen.sd, between);
  const together = pearsonOfRanks(femur.stemWithNative.value);
  const sd = femur.stemSpread.value;
  const law = {
    mean: mean + femur.stemOverNative.mean + (together * sd * (native - mean)) / nativeSd,
    sd: sd * Math.sqrt(1 - together ** 2),
  };
  return drawWithin(sampling, 'femur.stem', law, limits['stem-anteversion']);
}

/** Of two normal laws, the correlation that gives this rank correlation. */
function pearsonOfRanks(spearman: number): number {
  return 2 * Math.sin((Math.PI * spearman) / 6);
}

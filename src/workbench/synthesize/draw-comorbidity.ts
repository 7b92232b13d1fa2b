import type { Share } from './population-schema.js';
import type { Sampling } from './sampling.js';
import type { Comorbidity, Operation, Person } from './truth.js';

/** Old in the words of the records: over 70. */
const OLD = 70;

/** What else the patient has. */
export function drawComorbidity(sampling: Sampling, person: Person, operation: Operation): Comorbidity {
  const { draws, population } = sampling;
  const of = population.comorbidity;
  const has = (name: string, share: Share): boolean => draws.isChosen(`comorbidity.${name}`, share.value);
  const isFused = has('lumbar-fusion', of.lumbarFusion);
  return {
    ...(isFused && { fusedLevels: draws.choice('comorbidity.levels', of.fusedLevels.shares) }),
    isParkinson: has('parkinson', person.age > OLD ? of.parkinson.over70 : of.parkinson.to70),
    isDemented: has('dementia', dementiaShare(sampling, person, operation)),
    isMultipleSclerosis: draws.isChosen('comorbidity.multiple-sclerosis', sclerosisShare(sampling, person)),
    isCerebralPalsy: has('cerebral-palsy', of.cerebralPalsy),
    isMuscularDystrophy: has('muscular-dystrophy', of.muscularDystrophy),
    isParetic: has('paresis', of.paresis),
    isStrokeWithoutDeficit: has('stroke', of.strokeWithoutDeficit),
    isDepressed: has('depression', of.depression),
    isEpileptic: has('epilepsy', of.epilepsy),
    isAlcoholDependent: has('alcohol', of.alcohol),
    isSpineDeformed: has('spine-deformity', of.spineDeformity),
    isSpineAnkylosed: has('spine-ankylosis', of.spineAnkylosis),
    isLumbarStenotic: has('stenosis', of.lumbarStenosis),
    isLumbarDegenerated: has('degeneration', of.lumbarDegeneration),
    isPelvisIrradiated: has('irradiation', of.pelvicIrradiation),
    isHypermobile: has('hypermobility', of.hypermobility),
    abductors: drawAbductors(sampling, person, operation),
  };
}

function dementiaShare({ population }: Sampling, { age }: Person, { indication }: Operation): Share {
  const { withFracture, over70, to70 } = population.comorbidity.dementia;
  if (indication === 'femoral-neck-fracture') return withFracture;
  return age > OLD ? over70 : to70;
}

/** Divides the share of all between women and men by how many women there are for each man. */
function sclerosisShare({ population }: Sampling, { sex }: Person): number {
  const { multipleSclerosis, multipleSclerosisWomenToMen } = population.comorbidity;
  const women = population.patient.female.value;
  const ratio = multipleSclerosisWomenToMen.value;
  const ofSick = sex === 'female' ? ratio / (ratio + 1) : 1 / (ratio + 1);
  return (multipleSclerosis.value * ofSick) / (sex === 'female' ? women : 1 - women);
}

/** Sex and age each raise or lower the share of all by their own factor. */
function drawAbductors(
  { draws, population }: Sampling,
  { sex, age }: Person,
  { kind }: Operation,
): Comorbidity['abductors'] {
  const { absentAbductorsAtRevision } = population.operation;
  if (kind === 'revision')
    return draws.isChosen('comorbidity.abductors', absentAbductorsAtRevision.value) ? 'absent' : 'sound';
  const { women, men, over70, to70, all } = population.comorbidity.abductorTear;
  const bySex = (sex === 'female' ? women : men).value;
  const byAge = (age > OLD ? over70 : to70).value;
  return draws.isChosen('comorbidity.abductors', (bySex * byAge) / all.value) ? 'torn' : 'sound';
}

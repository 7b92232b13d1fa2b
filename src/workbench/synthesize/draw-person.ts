import { drawWithin, toStep } from './sampling.js';
import type { Limits, Sampling } from './sampling.js';
import type { Operation, Person } from './truth.js';

const ADULT: Limits = [18, 100];
const HEIGHT: Limits = [130, 215];
const WEIGHT_STEP_KG = 0.1;

/** Age, sex and body, as far as they go with what is operated on. */
export function drawPerson(sampling: Sampling, { indication }: Operation): Person {
  const { draws, population } = sampling;
  const { patient, limits } = population;
  const law = {
    dysplasia: { age: patient.ageWithDysplasia, female: patient.femaleWithDysplasia },
    'femoral-neck-fracture': { age: patient.ageWithFracture, female: patient.femaleWithFracture },
    other: { age: patient.age, female: patient.female },
  }[indication === 'dysplasia' || indication === 'femoral-neck-fracture' ? indication : 'other'];
  const sex = draws.isChosen('person.sex', law.female.value) ? 'female' : 'male';
  const age = drawWithin(sampling, 'person.age', law.age, ADULT);
  const heights = sex === 'female' ? patient.heightOfWomen : patient.heightOfMen;
  const heightCm = drawWithin(sampling, 'person.height', heights, HEIGHT);
  const target = drawWithin(sampling, 'person.bmi', patient.bodyMassIndex, limits['body-mass-index'], 0.1);
  const weightKg = toStep(target * (heightCm / 100) ** 2, WEIGHT_STEP_KG);
  return {
    sex,
    age,
    birthDate: birthDate(sampling, age),
    heightCm,
    weightKg,
    bodyMassIndex: toStep(weightKg / (heightCm / 100) ** 2, 0.1),
  };
}

/** Some day on which a person of this age may have been born. */
function birthDate({ draws, on }: Sampling, age: number): string {
  const year = Number(on.slice(0, 4));
  const lastBirthday = Date.UTC(year - age, Number(on.slice(5, 7)) - 1, Number(on.slice(8, 10)));
  // At least a day and less than a year before the last possible birthday, so that the age is this one.
  const back = draws.integer('person.birthday', 1, 364);
  return new Date(lastBirthday - back * 86_400_000).toISOString().slice(0, 10);
}

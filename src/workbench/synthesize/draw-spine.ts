import { drawWithin, toStep } from './sampling.js';
import type { Limits, Sampling } from './sampling.js';
import type { Comorbidity, Person, Spine } from './truth.js';

/**
 * Spine and pelvis in four postures. The pelvis is one rigid body: from one posture to the next sacral slope and plane
 * tilt change alike, and spinopelvic tilt the other way; incidence is tilt plus slope in every posture.
 */
export function drawSpine(sampling: Sampling, person: Person, comorbidity: Comorbidity): Spine {
  const { limits } = sampling.population;
  const incidence = drawWithin(
    sampling,
    'spine.incidence',
    sampling.population.spine.pelvicIncidence,
    limits['pelvic-incidence'],
  );
  const tilt = drawTilt(sampling, person, incidence);
  const slope = incidence - tilt;
  const plane = drawPlane(sampling, tilt);
  const standing = { tilt, slope, plane: plane.standing };
  const seated = drawSlopeLost(sampling, comorbidity, standing);
  const flexed = drawFlexedTurn(sampling, standing);
  const lordosis = drawLordosis(sampling, { person, comorbidity, incidence, lost: seated });
  return {
    'pelvic-incidence': incidence,
    'spinopelvic-tilt-standing': tilt,
    'spinopelvic-tilt-relaxed-seated': tilt + seated,
    'spinopelvic-tilt-flexed-seated': tilt - flexed,
    'sacral-slope-standing': slope,
    'sacral-slope-relaxed-seated': slope - seated,
    'sacral-slope-flexed-seated': slope + flexed,
    'app-tilt-supine': plane.supine,
    'app-tilt-standing': plane.standing,
    'app-tilt-relaxed-seated': plane.standing - seated,
    'app-tilt-flexed-seated': plane.standing + flexed,
    ...lordosis,
  };
}

/** Spinopelvic tilt around the line of incidence and age; what the line leaves of its spread is drawn. */
function drawTilt(sampling: Sampling, { age }: Person, incidence: number): number {
  const { spine, patient, limits } = sampling.population;
  const byLine = Math.hypot(
    spine.tiltFromIncidence.value * spine.pelvicIncidence.sd,
    spine.tiltFromAge.value * patient.age.sd,
  );
  const mean =
    spine.tiltAtZero.value + spine.tiltFromIncidence.value * incidence + spine.tiltFromAge.value * age;
  const sd = Math.sqrt(spine.tilt.sd ** 2 - byLine ** 2);
  return drawWithin(sampling, 'spine.tilt', { mean, sd }, limits['spinopelvic-tilt']);
}

interface Posture {
  readonly tilt: number;
  readonly slope: number;
  readonly plane: number;
}

/** How far the pelvis may turn back before a measure would leave its plausible limits. */
function turnLimits({ population: { limits } }: Sampling, { tilt, slope, plane }: Posture): Limits {
  const [slopeLow, slopeHigh] = limits['sacral-slope'];
  const [tiltLow, tiltHigh] = limits['spinopelvic-tilt'];
  const [planeLow, planeHigh] = limits['pelvic-tilt'];
  return [
    Math.max(slope - slopeHigh, tiltLow - tilt, plane - planeHigh),
    Math.min(slope - slopeLow, tiltHigh - tilt, plane - planeLow),
  ];
}

function drawSlopeLost(sampling: Sampling, { fusedLevels }: Comorbidity, standing: Posture): number {
  const { slopeLost, slopeLostWhenFused } = sampling.population.spine;
  const law = fusedLevels === undefined ? slopeLost : slopeLostWhenFused;
  return drawWithin(sampling, 'spine.slope-lost', law, turnLimits(sampling, standing));
}

function drawFlexedTurn(sampling: Sampling, standing: Posture): number {
  const [least, most] = turnLimits(sampling, standing);
  return drawWithin(sampling, 'spine.flexed', sampling.population.spine.planeStandingToFlexedSeated, [
    -most,
    -least,
  ]);
}

/** The plane leans with spinopelvic tilt; supine it follows standing as far as the spread of their difference asks. */
function drawPlane(sampling: Sampling, tilt: number): { readonly standing: number; readonly supine: number } {
  const { spine, limits } = sampling.population;
  const { planeStanding, planeSupine, planeSupineToStanding: change } = spine;
  const together = spine.planeWithTilt.value;
  const standing = drawWithin(
    sampling,
    'spine.plane-standing',
    {
      mean: planeStanding.mean + (together * planeStanding.sd * (tilt - spine.tilt.mean)) / spine.tilt.sd,
      sd: planeStanding.sd * Math.sqrt(1 - together ** 2),
    },
    limits['pelvic-tilt'],
  );
  const share = (planeStanding.sd ** 2 + change.sd ** 2 - planeSupine.sd ** 2) / (2 * planeStanding.sd ** 2);
  const supine = drawWithin(
    sampling,
    'spine.plane-supine',
    {
      mean: planeSupine.mean + (1 - share) * (standing - planeStanding.mean),
      sd: Math.sqrt(change.sd ** 2 - (share * planeStanding.sd) ** 2),
    },
    limits['pelvic-tilt'],
  );
  return { standing, supine };
}

interface LordosisContext {
  readonly person: Person;
  readonly comorbidity: Comorbidity;
  readonly incidence: number;
  /** Sacral slope lost, relaxed seated. */
  readonly lost: number;
}

function drawLordosis(
  sampling: Sampling,
  context: LordosisContext,
): Pick<Spine, 'lumbar-lordosis-standing' | 'lumbar-lordosis-flexed-seated' | 'lordosisLost'> {
  const { spine, limits } = sampling.population;
  const [least, most] = limits['lumbar-lordosis'];
  const over = drawWithin(sampling, 'spine.mismatch', spine.incidenceOverLordosis, [
    context.incidence - most,
    context.incidence - least,
  ]);
  const standing = context.incidence - over;
  const bent = drawLumbarFlexion(sampling, context, standing);
  const together = spine.slopeLostWithLordosisLost.value;
  const lostScore = (context.lost - spine.slopeLost.mean) / spine.slopeLost.sd;
  const score =
    together * lostScore + Math.sqrt(1 - together ** 2) * sampling.draws.normal('spine.lordosis-lost');
  return {
    'lumbar-lordosis-standing': standing,
    'lumbar-lordosis-flexed-seated': standing - bent,
    lordosisLost: toStep(spine.lordosisLost.mean + spine.lordosisLost.sd * score, 1),
  };
}

/** How far the lumbar spine bends: less with age, more where the pelvis turns more or the lordosis is deeper. */
function drawLumbarFlexion(
  sampling: Sampling,
  { person, comorbidity, lost }: LordosisContext,
  lordosis: number,
): number {
  const { spine, patient, limits: all } = sampling.population;
  const [least, most] = all['lumbar-lordosis'];
  const limits: Limits = [lordosis - most, lordosis - least];
  if (comorbidity.fusedLevels !== undefined)
    return drawWithin(sampling, 'spine.flexion', spine.lumbarFlexionWhenFused, limits);
  const { mean, sd } = spine.lumbarFlexion;
  const ageing = spine.lumbarFlexionFromAge.value;
  const withSlope = spine.slopeLostWithLumbarFlexion.value;
  const withLordosis = spine.lumbarFlexionWithLordosis.value;
  const lordosisMean = spine.pelvicIncidence.mean - spine.incidenceOverLordosis.mean;
  const lordosisSd = Math.hypot(spine.pelvicIncidence.sd, spine.incidenceOverLordosis.sd);
  const explained = Math.hypot(ageing * patient.age.sd, withSlope * sd, withLordosis * sd);
  const law = {
    mean:
      mean +
      ageing * (person.age - patient.age.mean) +
      (withSlope * sd * (lost - spine.slopeLost.mean)) / spine.slopeLost.sd +
      (withLordosis * sd * (lordosis - lordosisMean)) / lordosisSd,
    sd: Math.sqrt(sd ** 2 - explained ** 2),
  };
  return drawWithin(sampling, 'spine.flexion', law, limits);
}

import { z } from 'zod';

/** The form of `population.json`: every number with where it comes from. */

const READ_AT = [
  'full text',
  'abstract',
  'secondary source',
  'common practice, no source',
  'proposal',
] as const;
const READ: ReadonlySet<string> = new Set(['full text', 'abstract', 'secondary source']);

const origin = {
  readAt: z.enum(READ_AT),
  /** Records of the evidence dossier. */
  records: z.array(z.string()),
  why: z.string().optional(),
};
/** How many people or hips stand behind a number. */
const n = z.number().int().positive().optional();
/** Half the last digit printed. */
const rounding = z.number().positive().optional();

interface Origin {
  readonly readAt: string;
  readonly records: readonly string[];
}

const isSourced = ({ readAt, records }: Origin): boolean => READ.has(readAt) === records.length > 0;
const SOURCED = 'a number that was read names its records; one that was not names none';

const share = z
  .strictObject({ value: z.number().min(0).max(1), n, rounding, ...origin })
  .refine(isSourced, SOURCED);
const amount = z
  .strictObject({ value: z.number(), unit: z.string(), rounding, ...origin })
  .refine(isSourced, SOURCED);
const correlation = z
  .strictObject({ value: z.number().min(-1).max(1), n, ...origin })
  .refine(isSourced, SOURCED);
/** A normal law. */
const spread = z
  .strictObject({
    mean: z.number(),
    sd: z.number().positive(),
    unit: z.string(),
    n,
    sdN: n,
    /** What the record prints where another value inside its interval is used. */
    sdPrinted: z.number().positive().optional(),
    sdReadAt: z.enum(READ_AT).optional(),
    ...origin,
  })
  .refine(isSourced, SOURCED);

function choice<const Name extends string>(...names: readonly Name[]) {
  return z
    .strictObject({ shares: z.record(z.enum(names), z.number().min(0).max(1)), n, ...origin })
    .refine(isSourced, SOURCED);
}

const range = z.tuple([z.number(), z.number()]);

export const INDICATIONS = [
  'femoral-neck-fracture',
  'osteonecrosis',
  'inflammatory-arthritis',
  'slipped-epiphysis',
  'perthes',
] as const;
export const REVISION_CAUSES = [
  'loosening',
  'infection',
  'wear',
  'periprosthetic-fracture',
  'metal-reaction',
  'pain',
] as const;

export const populationSchema = z.strictObject({
  about: z.string(),
  patient: z.strictObject({
    age: spread,
    ageWithDysplasia: spread,
    ageWithFracture: spread,
    female: share,
    femaleWithDysplasia: share,
    femaleWithFracture: share,
    heightOfMen: spread,
    heightOfWomen: spread,
    bodyMassIndex: spread,
  }),
  operation: z.strictObject({
    revision: share,
    conversion: share,
    left: share,
    otherHipReplaced: share,
    dysplasia: share,
    otherIndications: choice(...INDICATIONS),
    instabilityAtRevision: share,
    otherRevisionCauses: choice(...REVISION_CAUSES),
    moreThanOneDislocation: share,
    moreThanFiveDislocations: share,
    dislocationDirection: choice('posterior', 'anterior', 'superior'),
    absentAbductorsAtRevision: share,
    yearsInPlace: spread,
    stemRetained: share,
  }),
  comorbidity: z.strictObject({
    depression: share,
    multipleSclerosis: share,
    multipleSclerosisWomenToMen: amount,
    cerebralPalsy: share,
    epilepsy: share,
    alcohol: share,
    lumbarFusion: share,
    fusedLevels: choice('one-or-two', 'three-to-seven', 'eight-or-more'),
    lumbarDegeneration: share,
    abductorTear: z.strictObject({ women: share, men: share, over70: share, to70: share, all: share }),
    parkinson: z.strictObject({ to70: share, over70: share }),
    dementia: z.strictObject({ to70: share, over70: share, withFracture: share }),
    muscularDystrophy: share,
    paresis: share,
    strokeWithoutDeficit: share,
    spineDeformity: share,
    spineAnkylosis: share,
    lumbarStenosis: share,
    pelvicIrradiation: share,
    hypermobility: share,
    strength: z.strictObject({ sound: choice('5', '4'), torn: choice('4', '3'), absent: choice('2', '1') }),
  }),
  spine: z.strictObject({
    pelvicIncidence: spread,
    tiltFromIncidence: amount,
    tiltFromAge: amount,
    tiltAtZero: amount,
    tilt: spread,
    slopeLost: spread,
    slopeLostWhenFused: spread,
    lordosisLost: spread,
    slopeLostWithLordosisLost: correlation,
    incidenceOverLordosis: spread,
    lumbarFlexion: spread,
    lumbarFlexionFromAge: amount,
    slopeLostWithLumbarFlexion: correlation,
    lumbarFlexionWithLordosis: correlation,
    lumbarFlexionWhenFused: spread,
    planeStanding: spread,
    planeSupine: spread,
    planeSupineToStanding: spread,
    planeStandingToFlexedSeated: spread,
    planeWithTilt: correlation,
  }),
  femur: z.strictObject({
    versionOfWomen: spread,
    versionOfMen: spread,
    croweTypes: choice('I', 'II-III', 'IV'),
    versionInDysplasia: z.strictObject({ I: spread, 'II-III': spread, IV: spread }),
    versionInSlippedEpiphysis: spread,
    stemOverNative: spread,
    stemWithNative: correlation,
    stemSpread: amount,
    offset: z.strictObject({ menRight: spread, menLeft: spread, womenRight: spread, womenLeft: spread }),
    iliacSpine: choice('I', 'II', 'III'),
    lengthDifference: spread,
    lengthDifferenceInDysplasia: spread,
    globalOffsetDifference: spread,
    flexion: spread,
    adduction: spread,
    internalRotation: spread,
  }),
  plan: z.strictObject({
    inclination: spread,
    anteversion: spread,
    asAchieved: share,
    onSupineFilm: share,
    cupDiameterOfMen: spread,
    cupDiameterOfWomen: spread,
    head36OrMore: share,
    smallerHeads: choice('28', '32'),
    largerHeads: choice('36', '40'),
    neckDiameters: choice('11', '12', '13', '14'),
    neckShaftAngles: choice('127', '131', '135'),
    skirted: share,
    dualMobility: share,
    dualMobilityAtRevision: share,
    elevatedRim: share,
    elevation: amount,
    elevationPosition: amount,
    bearings: choice(
      'ceramic-on-crosslinked-polyethylene',
      'metal-on-crosslinked-polyethylene',
      'ceramic-on-ceramic',
    ),
    anteriorApproach: share,
    posteriorOfOtherApproaches: share,
    anterolateralOfLateral: share,
    repairs: choice('capsule-and-rotators', 'capsule', 'none'),
    lengthAimed: spread,
    medialization: spread,
    offsetChange: spread,
    offsetChangeWithMedialization: correlation,
  }),
  inPlace: z.strictObject({
    inclination: spread,
    anteversion: spread,
    inclinationWhenUnstable: spread,
    anteversionWhenUnstable: spread,
    stemAnteversion: spread,
    lengthDifference: spread,
    heads: choice('22', '28', '32', '36'),
    conventionalPolyethylene: share,
    conventionalWear: spread,
    crosslinkedWear: spread,
  }),
  record: z.strictObject({
    snomed: share,
    bothCodeSystems: share,
    someMeasures: share,
    eachMeasureGroup: share,
    sideOnOrder: share,
    bodyMeasures: share,
    vagueFusionCode: share,
    fusionAsDiagnosis: share,
    tearOnProblemList: share,
    unrelatedDiagnoses: amount,
    unrelatedProcedures: amount,
    unrelatedObservations: amount,
    withdrawnDiagnosis: share,
    refutedWhenWithdrawn: share,
    withdrawnMeasure: share,
    otherHipMeasured: share,
    otherHipArthritis: share,
  }),
  /** Read by no draw: what must come out by itself. */
  heldAgainst: z.strictObject({
    stiffSlope: share,
    flatback: share,
    stiffSpine: share,
    stiffSpineWhenSlopeStiff: share,
    planeTiltOver10: share,
    retrovertedFemora: share,
    lengthOver10: share,
    length5To10: share,
    longLegs: share,
  }),
  /** Limits of plausible values, as the rulebook has them. */
  limits: z.strictObject({
    'body-mass-index': range,
    'cup-anteversion': range,
    'cup-inclination': range,
    'cup-outer-diameter': range,
    'femoral-offset-change': range,
    'global-offset-difference': range,
    'head-penetration': range,
    'head-penetration-rate': range,
    'hip-center-medialization': range,
    'leg-length-change': range,
    'leg-length-discrepancy': range,
    'lumbar-lordosis': range,
    'mobile-liner-diameter': range,
    'native-adduction': range,
    'native-femoral-anteversion': range,
    'native-femoral-offset': range,
    'native-flexion': range,
    'native-internal-rotation': range,
    'pelvic-incidence': range,
    'pelvic-tilt': range,
    'sacral-slope': range,
    'spinopelvic-tilt': range,
    'stem-anteversion': range,
  }),
});

export type Population = z.output<typeof populationSchema>;
/** A share, a mean with its spread, … as the file has them. */
export type Share = z.output<typeof share>;
export type Spread = z.output<typeof spread>;
export type Correlation = z.output<typeof correlation>;

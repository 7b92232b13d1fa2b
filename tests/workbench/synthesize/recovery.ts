import type {
  Correlation,
  Population,
  Share,
  Spread,
} from '../../../src/workbench/synthesize/population-schema.js';
import type { SyntheticTruth } from '../../../src/workbench/synthesize/truth.js';
import {
  correlation,
  correlationInterval,
  mean,
  meanInterval,
  ranks,
  sd,
  sdInterval,
  shareInterval,
  slopes,
  widened,
} from './intervals.js';
import type { Interval } from './intervals.js';

/** A published figure beside what the drawn hips give. */
export interface Recovery {
  readonly figure: string;
  readonly found: number;
  readonly allowed: Interval;
}

/**
 * Chance alone moves a figure of the drawn hips by its standard error: four of them are allowed beside the interval of
 * the source. A figure without people behind it is allowed its rounding and these.
 */
const STANDARD_ERRORS = 4;

/** Every published marginal and correlation beside what the hips drawn from `population` give. */
export function recoveries(truths: readonly SyntheticTruth[], published: Population): readonly Recovery[] {
  return [
    ...operationRecoveries(truths, published),
    ...comorbidityRecoveries(truths, published),
    ...spineRecoveries(truths, published),
    ...femurRecoveries(truths, published),
    ...planRecoveries(truths, published),
    ...inPlaceRecoveries(truths, published),
  ];
}

function shareOf<Item>(
  figure: string,
  share: Pick<Share, 'value' | 'n' | 'rounding'>,
  among: readonly Item[],
  test: (item: Item) => boolean,
): Recovery {
  const found = among.filter(test).length / among.length;
  const error = Math.sqrt((share.value * (1 - share.value)) / among.length);
  const interval: Interval =
    share.n === undefined ? [share.value, share.value] : shareInterval(share.value, share.n);
  return { figure, found, allowed: widened(interval, (share.rounding ?? 0) + STANDARD_ERRORS * error) };
}

function spreadOf(figure: string, law: Spread, values: readonly number[]): readonly Recovery[] {
  const error = law.sd / Math.sqrt(values.length);
  const printed = law.sdPrinted ?? law.sd;
  const means = law.n === undefined ? undefined : meanInterval(law.mean, printed, law.n);
  const sds = law.sdN === undefined ? undefined : sdInterval(printed, law.sdN);
  return [
    ...(means
      ? [
          {
            figure: `${figure}, mean`,
            found: mean(values),
            allowed: widened(means, STANDARD_ERRORS * error),
          },
        ]
      : []),
    ...(sds
      ? [
          {
            figure: `${figure}, SD`,
            found: sd(values),
            allowed: widened(sds, (STANDARD_ERRORS * error) / Math.SQRT2),
          },
        ]
      : []),
  ];
}

function correlationOf(figure: string, law: Correlation, found: number, count: number): Recovery {
  const interval: Interval =
    law.n === undefined ? [law.value, law.value] : correlationInterval(law.value, law.n);
  const error = (1 - law.value ** 2) / Math.sqrt(count);
  return { figure, found, allowed: widened(interval, STANDARD_ERRORS * error) };
}

function slopeOf(
  figure: string,
  { value, rounding = 0 }: { readonly value: number; readonly rounding?: number | undefined },
  found: number,
  error: number,
): Recovery {
  return { figure, found, allowed: widened([value, value], rounding + STANDARD_ERRORS * error) };
}

const isRevision = ({ operation }: SyntheticTruth): boolean => operation.kind === 'revision';
const isFused = ({ comorbidity }: SyntheticTruth): boolean => comorbidity.fusedLevels !== undefined;
const isFemale = ({ person }: SyntheticTruth): boolean => person.sex === 'female';

function operationRecoveries(
  truths: readonly SyntheticTruth[],
  { operation }: Population,
): readonly Recovery[] {
  const revisions = truths.filter(isRevision);
  const common = truths.filter(({ operation: { indication } }) =>
    ['osteoarthritis', 'dysplasia'].includes(indication),
  );
  const isUnstable = ({ operation: { indication } }: SyntheticTruth): boolean => indication === 'instability';
  const unstable = revisions.filter(isUnstable);
  const count = ({ inPlace }: SyntheticTruth): number => inPlace?.['dislocation-count'] ?? NaN;
  return [
    shareOf('revisions', operation.revision, truths, isRevision),
    shareOf('dysplasia', operation.dysplasia, common, (one) => one.operation.indication === 'dysplasia'),
    shareOf('instability at revision', operation.instabilityAtRevision, revisions, isUnstable),
    shareOf('more than one dislocation', operation.moreThanOneDislocation, unstable, (one) => count(one) > 1),
    shareOf('more than five', operation.moreThanFiveDislocations, unstable, (one) => count(one) > 5),
    shareOf(
      'absent abductors',
      operation.absentAbductorsAtRevision,
      revisions,
      (one) => one.comorbidity.abductors === 'absent',
    ),
  ];
}

function comorbidityRecoveries(
  truths: readonly SyntheticTruth[],
  { comorbidity: published }: Population,
): readonly Recovery[] {
  const fused = truths.filter(isFused);
  const native = truths.filter((one) => !isRevision(one));
  const isTorn = ({ comorbidity }: SyntheticTruth): boolean => comorbidity.abductors === 'torn';
  const { abductorTear, fusedLevels } = published;
  return [
    shareOf('depression', published.depression, truths, (one) => one.comorbidity.isDepressed),
    shareOf(
      'multiple sclerosis',
      published.multipleSclerosis,
      truths,
      (one) => one.comorbidity.isMultipleSclerosis,
    ),
    shareOf('cerebral palsy', published.cerebralPalsy, truths, (one) => one.comorbidity.isCerebralPalsy),
    shareOf('epilepsy', published.epilepsy, truths, (one) => one.comorbidity.isEpileptic),
    shareOf('alcohol', published.alcohol, truths, (one) => one.comorbidity.isAlcoholDependent),
    shareOf('lumbar fusion', published.lumbarFusion, truths, isFused),
    ...Object.entries(fusedLevels.shares).map(([levels, value]) =>
      shareOf(
        `fused levels ${levels}`,
        { value, n: fusedLevels.n },
        fused,
        (one) => one.comorbidity.fusedLevels === levels,
      ),
    ),
    shareOf(
      'lumbar degeneration',
      published.lumbarDegeneration,
      truths,
      (one) => one.comorbidity.isLumbarDegenerated,
    ),
    shareOf('abductor tears', abductorTear.all, native, isTorn),
    shareOf('abductor tears of women', abductorTear.women, native.filter(isFemale), isTorn),
    shareOf(
      'abductor tears of men',
      abductorTear.men,
      native.filter((one) => !isFemale(one)),
      isTorn,
    ),
    shareOf(
      'abductor tears over 70',
      abductorTear.over70,
      native.filter(({ person }) => person.age > 70),
      isTorn,
    ),
    shareOf(
      'abductor tears to 70',
      abductorTear.to70,
      native.filter(({ person }) => person.age <= 70),
      isTorn,
    ),
  ];
}

function spineRecoveries(
  truths: readonly SyntheticTruth[],
  { spine: published, heldAgainst }: Population,
): readonly Recovery[] {
  const free = truths.filter((one) => !isFused(one));
  const lost = ({ spine }: SyntheticTruth): number =>
    spine['sacral-slope-standing'] - spine['sacral-slope-relaxed-seated'];
  const bent = ({ spine }: SyntheticTruth): number =>
    spine['lumbar-lordosis-standing'] - spine['lumbar-lordosis-flexed-seated'];
  const of = (
    among: readonly SyntheticTruth[],
    name: 'pelvic-incidence' | 'spinopelvic-tilt-standing' | 'app-tilt-standing' | 'app-tilt-supine',
  ): readonly number[] => among.map(({ spine }) => spine[name]);
  const ages = truths.map(({ person }) => person.age);
  const tilts = of(truths, 'spinopelvic-tilt-standing');
  const [byIncidence, byAge] = slopes(tilts, of(truths, 'pelvic-incidence'), ages);
  const [, bentByAge] = slopes(
    free.map(bent),
    free.map(lost),
    free.map(({ person }) => person.age),
  );
  const residual = Math.sqrt(sd(tilts) ** 2 / truths.length);
  const planeChange = truths.map(({ spine }) => spine['app-tilt-standing'] - spine['app-tilt-supine']);
  const isStiffSlope = (one: SyntheticTruth): boolean => lost(one) < 10;
  const isStiffSpine = (one: SyntheticTruth): boolean => bent(one) <= 20;
  const flexed = truths.map(({ spine }) => spine['app-tilt-flexed-seated'] - spine['app-tilt-standing']);
  return [
    ...spreadOf('pelvic incidence', published.pelvicIncidence, of(truths, 'pelvic-incidence')),
    ...spreadOf('spinopelvic tilt', published.tilt, tilts),
    slopeOf('tilt from incidence', published.tiltFromIncidence, byIncidence, residual / 9.5),
    slopeOf('tilt from age', published.tiltFromAge, byAge, residual / sd(ages)),
    ...spreadOf('sacral slope lost', published.slopeLost, free.map(lost)),
    ...spreadOf(
      'sacral slope lost when fused',
      published.slopeLostWhenFused,
      truths.filter(isFused).map(lost),
    ),
    ...spreadOf(
      'lordosis lost',
      published.lordosisLost,
      free.map(({ spine }) => spine.lordosisLost),
    ),
    correlationOf(
      'slope lost with lordosis lost',
      published.slopeLostWithLordosisLost,
      correlation(
        free.map(lost),
        free.map(({ spine }) => spine.lordosisLost),
      ),
      free.length,
    ),
    correlationOf(
      'slope lost with lumbar flexion',
      published.slopeLostWithLumbarFlexion,
      correlation(free.map(lost), free.map(bent)),
      free.length,
    ),
    slopeOf('lumbar flexion from age', published.lumbarFlexionFromAge, bentByAge, 0.005),
    ...spreadOf('plane standing', published.planeStanding, of(truths, 'app-tilt-standing')),
    ...spreadOf('plane supine', published.planeSupine, of(truths, 'app-tilt-supine')),
    ...spreadOf('plane from supine to standing', published.planeSupineToStanding, planeChange),
    ...spreadOf('plane from standing to flexed seated', published.planeStandingToFlexedSeated, flexed),
    shareOf('stiff slopes', heldAgainst.stiffSlope, truths, isStiffSlope),
    shareOf(
      'flatbacks',
      heldAgainst.flatback,
      truths,
      ({ spine }) => spine['pelvic-incidence'] - spine['lumbar-lordosis-standing'] > 10,
    ),
    shareOf('stiff spines', heldAgainst.stiffSpine, truths, isStiffSpine),
    shareOf(
      'stiff spines among stiff slopes',
      heldAgainst.stiffSpineWhenSlopeStiff,
      truths.filter((one) => lost(one) <= 10),
      isStiffSpine,
    ),
    shareOf(
      'planes tilted over 10 degrees',
      heldAgainst.planeTiltOver10,
      truths,
      ({ spine }) => Math.abs(spine['app-tilt-standing']) > 10,
    ),
  ];
}

function femurRecoveries(
  truths: readonly SyntheticTruth[],
  { femur: published, heldAgainst }: Population,
): readonly Recovery[] {
  const version = ({ femur }: SyntheticTruth): number => femur['native-femoral-anteversion'];
  const stem = ({ femur }: SyntheticTruth): number => femur.stemVersion;
  const usual = truths.filter(
    ({ operation: { indication } }) => !['dysplasia', 'slipped-epiphysis'].includes(indication),
  );
  const crowe = (type: string): readonly SyntheticTruth[] =>
    truths.filter(({ operation }) => operation.croweType === type);
  const slipped = truths.filter(({ operation }) => operation.indication === 'slipped-epiphysis');
  const offsets = (sex: string, side: string): readonly number[] =>
    truths
      .filter(({ person, operation }) => person.sex === sex && operation.side === side)
      .map(({ femur }) => femur['native-femoral-offset']);
  const { iliacSpine, versionInDysplasia } = published;
  return [
    ...spreadOf('version of women', published.versionOfWomen, usual.filter(isFemale).map(version)),
    ...spreadOf('version of men', published.versionOfMen, usual.filter((one) => !isFemale(one)).map(version)),
    ...spreadOf('version in dysplasia I', versionInDysplasia.I, crowe('I').map(version)),
    ...spreadOf('version in dysplasia II-III', versionInDysplasia['II-III'], crowe('II-III').map(version)),
    ...spreadOf('version in dysplasia IV', versionInDysplasia.IV, crowe('IV').map(version)),
    ...spreadOf('version in slipped epiphysis', published.versionInSlippedEpiphysis, slipped.map(version)),
    ...spreadOf(
      'stem over native',
      published.stemOverNative,
      usual.map((one) => stem(one) - version(one)),
    ),
    correlationOf(
      'stem with native, by rank',
      published.stemWithNative,
      correlation(ranks(usual.map(stem)), ranks(usual.map(version))),
      usual.length,
    ),
    shareOf('retroverted femora', heldAgainst.retrovertedFemora, usual, (one) => version(one) < 0),
    ...spreadOf('offset of men, right', published.offset.menRight, offsets('male', 'right')),
    ...spreadOf('offset of men, left', published.offset.menLeft, offsets('male', 'left')),
    ...spreadOf('offset of women, right', published.offset.womenRight, offsets('female', 'right')),
    ...spreadOf('offset of women, left', published.offset.womenLeft, offsets('female', 'left')),
    ...Object.entries(iliacSpine.shares).map(([type, value]) =>
      shareOf(
        `iliac spine ${type}`,
        { value, n: iliacSpine.n },
        truths,
        ({ femur }) => femur['aiis-prominence'] === type,
      ),
    ),
  ];
}

function planRecoveries(
  truths: readonly SyntheticTruth[],
  { plan: published, inPlace }: Population,
): readonly Recovery[] {
  const aimed = truths.filter(({ plan }) => !plan.isAsAchieved);
  const achieved = truths.filter(({ plan }) => plan.isAsAchieved);
  const isDual = ({ plan }: SyntheticTruth): boolean => plan['liner-type'] === 'dual-mobility';
  const fixed = truths.filter((one) => !isDual(one));
  const others = truths.filter(({ plan }) => plan['surgical-approach'] !== 'direct-anterior');
  const of = (
    among: readonly SyntheticTruth[],
    name: 'cup-inclination' | 'cup-anteversion' | 'hip-center-medialization' | 'femoral-offset-change',
  ): readonly number[] => among.map(({ plan }) => plan[name]);
  return [
    ...spreadOf('planned inclination', published.inclination, of(aimed, 'cup-inclination')),
    ...spreadOf('planned anteversion', published.anteversion, of(aimed, 'cup-anteversion')),
    ...spreadOf('inclination as achieved', inPlace.inclination, of(achieved, 'cup-inclination')),
    ...spreadOf('anteversion as achieved', inPlace.anteversion, of(achieved, 'cup-anteversion')),
    ...spreadOf('medialization', published.medialization, of(truths, 'hip-center-medialization')),
    ...spreadOf('offset change', published.offsetChange, of(truths, 'femoral-offset-change')),
    shareOf(
      'heads of 36 mm or more',
      published.head36OrMore,
      fixed,
      ({ plan }) => plan['head-diameter'] >= 36,
    ),
    shareOf(
      'dual mobility',
      published.dualMobility,
      truths.filter((one) => !isRevision(one)),
      isDual,
    ),
    shareOf('dual mobility at revision', published.dualMobilityAtRevision, truths.filter(isRevision), isDual),
    shareOf(
      'elevated rims',
      published.elevatedRim,
      fixed,
      ({ plan }) => plan['liner-type'] === 'elevated-rim',
    ),
    shareOf(
      'anterior approaches',
      published.anteriorApproach,
      truths,
      ({ plan }) => plan['surgical-approach'] === 'direct-anterior',
    ),
    shareOf(
      'posterior among the other approaches',
      published.posteriorOfOtherApproaches,
      others,
      ({ plan }) => plan['surgical-approach'] === 'posterior',
    ),
  ];
}

function inPlaceRecoveries(
  truths: readonly SyntheticTruth[],
  { inPlace: published, heldAgainst }: Population,
): readonly Recovery[] {
  const hips = truths.flatMap(({ inPlace, operation }) =>
    inPlace ? [{ ...inPlace, cause: operation.indication }] : [],
  );
  const unstable = hips.filter(({ cause }) => cause === 'instability');
  const others = hips.filter(({ cause }) => cause !== 'instability');
  const wear = (liner: string): readonly number[] =>
    hips.filter((hip) => hip['bearing-couple'].includes(liner)).map((hip) => hip['head-penetration-rate']);
  const size = (hip: (typeof hips)[number]): number => Math.abs(hip['leg-length-discrepancy']);
  return [
    ...spreadOf(
      'inclination in place',
      published.inclination,
      others.map((hip) => hip['cup-inclination']),
    ),
    ...spreadOf(
      'anteversion in place',
      published.anteversion,
      others.map((hip) => hip['cup-anteversion']),
    ),
    ...spreadOf(
      'inclination when unstable',
      published.inclinationWhenUnstable,
      unstable.map((hip) => hip['cup-inclination']),
    ),
    ...spreadOf(
      'anteversion when unstable',
      published.anteversionWhenUnstable,
      unstable.map((hip) => hip['cup-anteversion']),
    ),
    ...spreadOf(
      'stem anteversion in place',
      published.stemAnteversion,
      hips.map((hip) => hip['stem-anteversion']),
    ),
    ...spreadOf('conventional wear', published.conventionalWear, wear('conventional')),
    ...spreadOf('cross-linked wear', published.crosslinkedWear, wear('crosslinked')),
    shareOf('legs more than 10 mm unequal', heldAgainst.lengthOver10, hips, (hip) => size(hip) > 10),
    shareOf(
      'legs 5 to 10 mm unequal',
      heldAgainst.length5To10,
      hips,
      (hip) => size(hip) >= 5 && size(hip) <= 10,
    ),
    shareOf('long legs', heldAgainst.longLegs, hips, (hip) => hip['leg-length-discrepancy'] > 0),
  ];
}

export function isRecovered({ found, allowed: [low, high] }: Recovery): boolean {
  return found >= low && found <= high;
}

import { z } from 'zod';
import { degrees } from '../../src/base/units.js';
import { combinedSagittalIndex } from '../../src/biomechanics/spine/combined-sagittal-index.js';
import { hipUserIndex } from '../../src/biomechanics/spine/hip-user-index.js';
import {
  pelvicIncidenceLordosisMismatch,
  pelvicIncidenceResidual,
  spinopelvicMobility,
} from '../../src/biomechanics/spine/spinopelvic.js';
import { motionEvidence, publishedMotion } from '../biomechanics/published-motion-sets.js';
import { levelThighFlexion, posteriorTiltIn } from '../biomechanics/seated-hip.js';
import { workedExample } from '../biomechanics/worked-example.js';
import { recordNamed } from '../rulebook/evidence.js';
import { fixed, printed, value } from './reference.js';
import type { Row } from './row.js';
import { compared } from './rows.js';
import type { Section } from './section.js';

const number = z.number();
const PAIR = z.tuple([number, number]);

function identities(): readonly Row[] {
  const identity = workedExample('spinopelvic', 'pi-identity', {
    inputs: z.object({ PT: number, SS: number }),
    expected: z.object({ PI: number }),
  });
  const flat = workedExample('spinopelvic', 'flatback', {
    inputs: z.object({ PI: number, LL: number }),
    expected: z.object({ PI_minus_LL: number }),
  });
  const { PT, SS } = identity.inputs;
  const residual = pelvicIncidenceResidual({
    pelvicIncidence: degrees(identity.expected.PI),
    spinopelvicTilt: degrees(PT),
    sacralSlope: degrees(SS),
  });
  const { PI, LL } = flat.inputs;
  const mismatch = pelvicIncidenceLordosisMismatch({
    pelvicIncidence: degrees(PI),
    lumbarLordosis: degrees(LL),
  });
  return [
    compared(identity, {
      what: `what PI = PT + SS leaves over for an incidence of ${identity.expected.PI}, tilt ${PT} and sacral slope ${SS}`,
      unit: 'deg',
      reference: printed(0, { origin: 'derived' }),
      ours: value(residual),
      decimals: 0,
    }),
    compared(flat, {
      what: `PI - LL of incidence ${PI} and lordosis ${LL}`,
      unit: 'deg',
      reference: printed(flat.expected.PI_minus_LL, { origin: 'derived' }),
      ours: value(mismatch),
      decimals: 0,
    }),
  ];
}

function indices(): readonly Row[] {
  const sagittal = (['csi-typical-standing', 'csi-typical-sitting'] as const).map((id) => {
    const record = workedExample('spinopelvic', id, {
      inputs: z.object({ AI: number, PFA: number }),
      expected: z.object({ CSI: number }),
    });
    const { AI, PFA } = record.inputs;
    return compared(record, {
      what: `combined sagittal index of mean ante-inclination ${AI} and pelvic-femoral angle ${PFA}`,
      unit: 'deg',
      reference: printed(record.expected.CSI, { origin: 'derived' }),
      ours: value(combinedSagittalIndex({ anteInclination: degrees(AI), pelvicFemoralAngle: degrees(PFA) })),
      decimals: 0,
    });
  });
  const user = workedExample('spinopelvic', 'hip-user-index', {
    inputs: z.object({ dPFA: number, dLL: number }),
    expected: z.object({ HUI: number }),
  });
  const { dPFA, dLL } = user.inputs;
  const slopes = recordNamed('spinopelvic-change-hip-disease');
  const { dSS, dPT } = z.object({ value: z.object({ dSS: PAIR, dPT: PAIR }) }).parse(slopes).value;
  const bySlope = spinopelvicMobility({
    angle: 'sacral-slope',
    standing: degrees(dSS[0]),
    seated: degrees(0),
  });
  return [
    ...sagittal,
    compared(user, {
      what: `hip-user index of ${dPFA} at the hip and ${dLL} at the spine`,
      unit: '%',
      reference: printed(user.expected.HUI, { origin: 'derived' }),
      ours: value(hipUserIndex({ hip: degrees(dPFA), lumbar: degrees(dLL) })),
      decimals: 2,
    }),
    compared(slopes, {
      what: `mean roll of the pelvis on sitting, printed as change of tilt; ours from the change of sacral slope, ${dSS[0]}, in the same 74 people`,
      unit: 'deg',
      reference: printed(-dPT[0], {
        tolerance: { by: 0.1, kind: 'rounding', from: 'two figures rounded to 0.1' },
      }),
      ours: value(bySlope),
      decimals: 1,
    }),
  ];
}

const LEVEL = 'that the thigh is level with the ground';

function squatting(): readonly Row[] {
  return ['komiyama-squat-post-tha', 'komiyama-squat-pre-tha'].map((id) => {
    const record = publishedMotion(id);
    const rolledBack = posteriorTiltIn(record.notes);
    const [low, high] = z.looseObject({ range: PAIR }).parse(motionEvidence(id, z.looseObject({}))).range;
    const flexion = record.flexion ?? NaN;
    const ours = levelThighFlexion(-rolledBack);
    return compared(record, {
      what: `mean hip flexion, ${z.looseObject({ activity: z.string() }).parse(record).activity}, pelvis rolled back ${rolledBack}`,
      unit: 'deg',
      reference: printed(flexion, {
        tolerance: {
          by: Math.min(flexion - low, high - flexion),
          kind: 'spread',
          from: `the range of ten persons, ${low} to ${high}, which is wide`,
        },
      }),
      ours: value(ours),
      decimals: 1,
      guessed: LEVEL,
    });
  });
}

function bendingForward(): readonly Row[] {
  const tilts = recordNamed('pelvic-tilt-1517');
  const change = z
    .object({ value: z.object({ standing_to_flexed_seated: z.object({ mean: number }) }) })
    .parse(tilts).value.standing_to_flexed_seated.mean;
  return ['volunteers-deep-seated-men', 'volunteers-deep-seated-women'].map((id) => {
    const record = publishedMotion(id);
    const { sd, population } = z
      .looseObject({ sd: number, population: z.string() })
      .parse(motionEvidence(id, z.looseObject({})));
    const flexion = record.flexion ?? NaN;
    const ours = levelThighFlexion(change);
    const standardError = sd / Math.sqrt(Number(/\d+/.exec(population)?.[0]));
    return compared(record, {
      what: `mean flexion from standing, ${z.looseObject({ activity: z.string() }).parse(record).activity}; ours with the mean change of tilt of another cohort, ${change}`,
      unit: 'deg',
      reference: printed(flexion, {
        tolerance: {
          by: sd,
          kind: 'spread',
          from: `one standard deviation between ${population}, which is wide`,
        },
      }),
      ours: value(ours),
      decimals: 1,
      guessed: LEVEL,
      remark: `By the standard error of the mean, ${fixed(standardError, 1)}, ours lies ${fixed(Math.abs(ours - flexion) / standardError, 1)} of them off.`,
    });
  });
}

function relaxed(): readonly Row[] {
  const slopes = recordNamed('spinopelvic-change-hip-disease');
  const { dSS } = z.object({ value: z.object({ dSS: PAIR }) }).parse(slopes).value;
  const seated = publishedMotion('seated-posture-flexion');
  const table = motionEvidence(
    'spinopelvic-normal-lum-table',
    z.object({
      citation: z.object({
        authors: z.string().nullish(),
        journal: z.string().nullish(),
        year: number.nullish(),
        doi: z.string().nullish(),
      }),
      verified: z.string(),
      value: z.object({ SS_stand: PAIR, SS_sit: PAIR, PFA_stand: PAIR, PFA_sit: PAIR }),
    }),
  );
  const { SS_stand, SS_sit, PFA_stand, PFA_sit } = table.value;
  const rolledBack = SS_stand[0] - SS_sit[0];
  const typical = PFA_stand[0] - PFA_sit[0];
  return [
    compared(seated, {
      what: `mean hip flexion in relaxed sitting; ours with the mean roll-back of another cohort, ${dSS[0]}`,
      unit: 'deg',
      reference: printed(seated.flexion ?? NaN),
      ours: value(levelThighFlexion(-dSS[0])),
      decimals: 1,
      guessed: `${LEVEL}; a standing tilt of 0`,
      remark:
        'The abstract gives neither the tilt of its own patients nor the reference its flexion is counted from.',
    }),
    compared(table, {
      what: `hip flexion in sitting from typical pelvic-femoral angles, ${PFA_stand[0]} and ${PFA_sit[0]}; ours from the sacral slopes of the same table, ${SS_stand[0]} and ${SS_sit[0]}`,
      unit: 'deg',
      reference: printed(typical),
      ours: value(levelThighFlexion(-rolledBack)),
      decimals: 0,
      guessed: LEVEL,
      remark: `The table would leave the thigh at ${fixed(typical + rolledBack, 0)} against the ground: a high seat, or a low knee end of the femur on the film, or means of different people.`,
    }),
  ];
}

export function spine(): Section {
  return {
    title: 'Spine and pelvis, and sitting',
    paragraphs: [
      'The first rows are definitions and sums. The last six set published means of hip flexion beside 90 degrees plus anterior tilt, which assumes a thigh level with the ground. No abstract states that; these rows show how near plain geometry comes to people and prove nothing.',
    ],
    rows: [...identities(), ...indices(), ...squatting(), ...bendingForward(), ...relaxed()],
  };
}

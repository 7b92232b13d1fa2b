import { z } from 'zod';
import { millimetres } from '../../src/base/units.js';
import { partialWeight, weightArmFromHipCenters } from '../../src/biomechanics/force/hip-force.js';
import { standingLegForce } from '../../src/biomechanics/force/leg-free-body.js';
import { LEG, stance, standingLeg } from '../biomechanics/textbook-stance.js';
import { workedExample } from '../biomechanics/worked-example.js';
import { armPerOffset, instrumented } from './measured-force.js';
import { printed, value } from './reference.js';
import type { Row } from './row.js';
import { compared } from './rows.js';
import type { Section } from './section.js';

const number = z.number();
const EXPECTED_BW = z.object({ T_BW: number, R_BW: number });

function freeBody(): readonly Row[] {
  const textbook = workedExample('hip-force', 'one-leg-stance-leg-free-body', {
    inputs: LEG,
    expected: EXPECTED_BW,
  });
  const lurch = workedExample('hip-force', 'trunk-lurch-limits', { inputs: LEG, expected: EXPECTED_BW });
  const upright = standingLegForce(standingLeg(textbook.inputs));
  const leaning = standingLegForce(standingLeg(lurch.inputs));
  const guessed = `the distance from hip center to trochanter, ${textbook.inputs.xT_cm} cm, is from memory`;
  return [
    compared(textbook, {
      what: 'abductor force on one leg, leg as free body, foot under the body',
      unit: 'body weights',
      reference: printed(textbook.expected.T_BW),
      ours: value(upright.abductor),
      decimals: 3,
      guessed,
    }),
    compared(textbook, {
      what: 'hip contact force on one leg, leg as free body, foot under the body',
      unit: 'body weights',
      reference: printed(textbook.expected.R_BW),
      ours: value(upright.contact),
      decimals: 3,
      guessed,
    }),
    compared(lurch, {
      what: 'abductor force with the trunk leaned until the foot stands under the hip',
      unit: 'body weights',
      reference: printed(lurch.expected.T_BW, { origin: 'derived' }),
      ours: value(leaning.abductor),
    }),
    compared(lurch, {
      what: 'hip contact force with the trunk leaned until the foot stands under the hip',
      unit: 'body weights',
      reference: printed(lurch.expected.R_BW, { origin: 'derived' }),
      ours: value(leaning.contact),
    }),
  ];
}

function pauwels(): readonly Row[] {
  const mass = workedExample('hip-force', 'pauwels-partial-mass-and-arm', {
    inputs: z.object({ S_kg: number, G1: number, G2: number, y1_cm: number, y2_cm: number, yHip_cm: number }),
    expected: z.object({ S5_kg: number, y5_cm: number, a_cm: number }),
  });
  const { S_kg, G1, G2, y1_cm, y2_cm, yHip_cm } = mass.inputs;
  const weight = partialWeight([
    { share: G1, medial: millimetres(10 * (yHip_cm - y1_cm)) },
    { share: G2, medial: millimetres(10 * (yHip_cm - y2_cm)) },
  ]);
  const force = workedExample('hip-force', 'pauwels-single-support-force', {
    inputs: z.object({
      S5_kgf: number,
      a_mm: number,
      h_mm: number,
      alpha_deg: number,
      bodyMass_kg: number,
    }),
    expected: z.object({ M_kgf: number, R_kgf: number, angle_deg: number }),
    notes: z.string(),
  });
  const { S5_kgf, a_mm, h_mm, alpha_deg, bodyMass_kg } = force.inputs;
  const found = stance(S5_kgf / bodyMass_kg, a_mm, h_mm, alpha_deg);
  const lever = `arms ${a_mm} and ${h_mm} mm, abductors at ${alpha_deg}`;
  const recalledForce = Number(/about (\d+) kgf/.exec(force.notes)?.[1]);
  const recalledAngle = Number(/about (\d+) degrees/.exec(force.notes)?.[1]);
  const remark =
    'A textbook drew its force polygon by hand; the figure is recalled and may be rounded otherwise.';
  return [
    compared(mass, {
      what: `mass of trunk and lifted leg, body mass ${S_kg}`,
      unit: 'kg',
      reference: printed(mass.expected.S5_kg),
      ours: value(weight.partialWeight * S_kg),
    }),
    compared(mass, {
      what: 'lateral place of their center of mass',
      unit: 'cm',
      reference: printed(mass.expected.y5_cm),
      ours: value(yHip_cm - weight.weightArm / 10),
    }),
    compared(mass, {
      what: 'its arm about the hip center',
      unit: 'cm',
      reference: printed(mass.expected.a_cm),
      ours: value(weight.weightArm / 10),
    }),
    compared(force, {
      what: `abductor force of the plane lever, ${lever}`,
      unit: 'kgf',
      reference: printed(force.expected.M_kgf, { origin: 'derived' }),
      ours: value(found.abductor * bodyMass_kg),
    }),
    compared(force, {
      what: `hip contact force of the plane lever, ${lever}`,
      unit: 'kgf',
      reference: printed(force.expected.R_kgf, { origin: 'derived' }),
      ours: value(found.contact * bodyMass_kg),
    }),
    compared(force, {
      what: 'the same force as the textbook itself has it',
      unit: 'kgf',
      reference: printed(recalledForce, { origin: 'recalled' }),
      ours: value(found.contact * bodyMass_kg),
      remark,
    }),
    compared(force, {
      what: 'its angle from the vertical as the textbook has it, about',
      unit: 'deg',
      reference: printed(recalledAngle, { origin: 'recalled' }),
      ours: value(found.contactAngle),
      remark,
    }),
  ];
}

function otherLevers(): readonly Row[] {
  const debrunner = workedExample('hip-force', 'debrunner-five-sixths', {
    inputs: z.object({ hipCentreDistance_mm: number, h_mm: number, alpha_deg: number }),
    expected: z.object({ d5_mm: number, M_BW: number, R_BW: number }),
  });
  const { hipCentreDistance_mm, h_mm, alpha_deg } = debrunner.inputs;
  const arm = weightArmFromHipCenters(millimetres(hipCentreDistance_mm), 1.28);
  const byFiveSixths = stance(5 / 6, arm, h_mm, alpha_deg);
  const iglic = workedExample('hip-force', 'iglic-partial-weight-arm', {
    inputs: z.object({ b: number, c: number, wL: number, l_mm: number }),
    expected: z.object({ a_mm: number }),
  });
  const { b, c, wL, l_mm } = iglic.inputs;
  const body = partialWeight([
    { share: 1, medial: millimetres(c * l_mm) },
    { share: -wL, medial: millimetres(b * l_mm) },
  ]);
  const parallel = workedExample('hip-force', 'lever-ratio-three-to-one', {
    inputs: z.object({ G: number, k1_over_k2: number }),
    expected: z.object({ R: number }),
  });
  const { G, k1_over_k2 } = parallel.inputs;
  return [
    compared(debrunner, {
      what: `weight arm, 1.28 half distances of hip centers ${hipCentreDistance_mm} mm apart`,
      unit: 'mm',
      reference: printed(debrunner.expected.d5_mm, { origin: 'derived' }),
      ours: value(arm),
    }),
    compared(debrunner, {
      what: 'abductor force of five sixths of body weight on that arm',
      unit: 'body weights',
      reference: printed(debrunner.expected.M_BW, { origin: 'derived' }),
      ours: value(byFiveSixths.abductor),
    }),
    compared(debrunner, {
      what: 'hip contact force of five sixths of body weight on that arm',
      unit: 'body weights',
      reference: printed(debrunner.expected.R_BW, { origin: 'derived' }),
      ours: value(byFiveSixths.contact),
    }),
    compared(iglic, {
      what: `weight arm of the body without the standing leg, half distance of hip centers ${l_mm} mm`,
      unit: 'mm',
      reference: printed(iglic.expected.a_mm, { origin: 'derived' }),
      ours: value(body.weightArm),
    }),
    compared(parallel, {
      what: `hip contact force of parallel forces with arms ${k1_over_k2} to 1`,
      unit: 'weights',
      reference: printed(parallel.expected.R),
      ours: value(stance(G, 10 * k1_over_k2, 10, 0).contact),
      remark: 'An identity of the lever.',
    }),
  ];
}

export function force(): Section {
  return {
    title: 'Hip force on one leg',
    paragraphs: [
      'Statics of one abductor in the frontal plane. Textbook sums hold the code; ten instrumented hips hold the model. Tolerances of the records were set after the result for the ten hips was known, so none is used there.',
    ],
    rows: [...freeBody(), ...pauwels(), ...otherLevers(), ...instrumented(), ...armPerOffset()],
  };
}

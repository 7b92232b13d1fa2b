import { synthesizeHips } from '../../../src/workbench/synthesize/synthesize-hips.js';
import {
  LATER,
  STATES,
  bundleOf,
  otherSide,
  recordOf,
  withMeasure,
  withOrder,
  withProblem,
  withProcedure,
  withResource,
  withSecondOrder,
  withoutMeasure,
  withoutSet,
} from './record-changes.js';
import type { ChangedRecord, Measure, Side } from './record-changes.js';
import type { SentRecord } from './cql.js';
import { listedIn, sideStatedBy } from './terminology.js';

/**
 * 1,000 synthetic patients, 500 of each profile. Every second one is changed, in turn by one of the tables below, so
 * that values lie at limits and just beside them and every reading that can be doubtful is.
 */
export function patients(): readonly SentRecord[] {
  return (['fully-planned', 'record-like'] as const).flatMap((profile, at) =>
    [...synthesizeHips({ seed: 20_261_124 + at, count: 500, profile })].map((patient, index) => {
      const record = recordOf(patient);
      const changed = index % 2 === 0 ? record : change(record, (index - 1) / 2);
      return {
        id: patient.id,
        bundle: bundleOf(changed),
        isProblemListRead: !changed.unsent.includes('conditions'),
        areProceduresRead: !changed.unsent.includes('procedures'),
      };
    }),
  );
}

type Change = (record: ChangedRecord, turn: number) => ChangedRecord;

function change(record: ChangedRecord, index: number): ChangedRecord {
  const kind = item(CHANGES, index);
  return kind(record, Math.floor(index / CHANGES.length));
}

function item<Item>(items: readonly Item[], turn: number): Item {
  const found = items[turn % items.length];
  if (found === undefined) throw new RangeError('nothing to choose from');
  return found;
}

const PLANNED_INCLINATIONS: readonly Measure[] = [
  { value: 58 },
  { value: 58.1 },
  { value: 30 },
  { value: 29.9 },
  { value: { low: 56, high: 60 } },
  { value: 66 },
  { value: { low: 59, high: 61 } },
  { value: 24 },
  { value: 4 },
  { value: 95 },
  { value: 45, unit: 'mm' },
  { value: 60, status: 'registered' },
  { value: 60, on: LATER },
  { value: { low: 80, high: 95 } },
  { value: 61, components: { method: 'estimate' } },
];

const PLANNED_ANTEVERSIONS: readonly Measure[] = [
  { value: 0 },
  { value: -0.1 },
  { value: -5 },
  { value: { low: -3, high: 4 } },
  { value: { low: -9, high: -2 } },
  { value: -10, components: { 'version-sign-confirmed': false } },
  { value: -10, components: { 'version-sign-confirmed': true } },
  { value: -50 },
  { value: -8, unit: 'mm' },
  { value: -8, components: { method: 'ap-film' } },
  { value: { low: 0, high: 10 } },
  { value: -8, status: 'entered-in-error' },
];

const read = (
  value: Measure['value'],
  method?: string,
  more: Readonly<Record<string, string | boolean>> = {},
): Measure => ({
  value,
  stage: 'postoperative',
  components: {
    ...((method === 'ct' || method === 'navigation') && { 'angle-definition': 'radiographic' }),
    ...(method !== undefined && { method }),
    ...more,
  },
});

const MEASURED_INCLINATIONS: readonly Measure[] = [
  read(60, 'ct'),
  read(60.1, 'ct'),
  read(60, 'ap-film'),
  read(60.5, 'ap-film'),
  read(28, 'ct'),
  read(27.9, 'cross-table'),
  read(70, 'estimate'),
  read(40, 'estimate'),
  read(61),
  read(59),
  read(60.1, 'navigation'),
  read(60, 'clinical'),
  read({ low: 58, high: 63 }, 'ct'),
  read({ low: 61, high: 63 }, 'ct'),
];

const MEASURED_ANTEVERSIONS: readonly Measure[] = [
  read(-12, 'ap-film'),
  read(-3, 'ap-film'),
  read(-5, 'ap-film'),
  read(-2, 'ct'),
  read(-2.1, 'ct'),
  read(-5, 'cross-table'),
  read(-5.1, 'cross-table'),
  read(-6, 'navigation'),
  read(-8, 'ap-film', { 'version-sign-confirmed': true }),
  read(-8, 'ct', { 'version-sign-confirmed': false }),
  read(-8, 'estimate'),
  read(3, 'ap-film'),
  read(12, 'ap-film'),
  read(12),
  read(-12),
  read({ low: -9, high: 3 }, 'ct'),
];

const TOTAL_HIP = { system: 'http://snomed.info/sct', code: '52734007' };

/** A replacement of the other hip, with both angles measured. */
const measuredOther: Change = (record, turn) => {
  const side = otherSide(record.side);
  const operated = withProcedure(record, { code: TOTAL_HIP, state: 'active', site: side });
  return withAngles(operated, turn, side);
};

/** A plan that keeps the cup: its angles are those measured. */
const retainedCup: Change = (record, turn) => {
  const kept = withMeasure(record, 'component-retained', { value: { code: 'cup' } });
  const unplanned = ['cup-inclination', 'cup-anteversion'].reduce(
    (all, code) => withoutMeasure(all, code, 'planned'),
    kept,
  );
  return withAngles(unplanned, turn, record.side);
};

function withAngles(record: ChangedRecord, turn: number, side: Side): ChangedRecord {
  const inclined = withMeasure(record, 'cup-inclination', { ...item(MEASURED_INCLINATIONS, turn), side });
  return withMeasure(inclined, 'cup-anteversion', { ...item(MEASURED_ANTEVERSIONS, turn), side });
}

const mm = (value: Measure['value']): Measure => ({ value, unit: 'mm' });

interface Bearing {
  readonly head?: Measure;
  readonly neck?: Measure;
  readonly liner?: string;
  readonly mobile?: Measure;
}

const BEARINGS: readonly Bearing[] = [
  { head: mm(28), neck: mm(12), liner: 'neutral' },
  { head: mm(23.7), neck: mm(10) },
  { head: mm(23.6), neck: mm(10) },
  { head: mm(32), neck: mm(12) },
  { head: mm(28), liner: 'elevated-rim' },
  { head: mm(47.4) },
  { head: mm(47.3) },
  { head: mm(28), neck: mm(7) },
  { head: mm({ low: 28, high: 32 }), neck: mm(12) },
  { head: mm({ low: 22, high: 26 }), neck: mm(12) },
  { head: { value: 2.8, unit: 'cm' }, neck: mm(13) },
  { head: mm(28), neck: mm(12), liner: 'dual-mobility' },
  { head: mm(28), neck: mm(12), liner: 'ceramic-on-metal' },
  { head: mm(28), neck: mm(12), mobile: mm(42) },
  { head: mm(28), neck: mm(12), mobile: mm(90) },
  { head: mm(28), neck: mm(12), mobile: mm(90), liner: 'dual-mobility' },
  { head: { value: 28, unit: 'deg' }, neck: mm(12) },
  { neck: mm(12) },
  { head: mm(22), neck: mm({ low: 9, high: 10 }) },
  { head: { ...mm(28), status: 'registered' }, neck: mm(12) },
];

const STRENGTHS: readonly (number | 'not measured')[] = [3, 5, 'not measured', 2, 4, 6];

const bearing: Change = (record, turn) => {
  const { head, neck, liner, mobile } = item(BEARINGS, turn);
  const strength = item(STRENGTHS, turn);
  let changed = withoutMeasure(record, 'abductor-strength', 'native');
  if (strength !== 'not measured')
    changed = withMeasure(changed, 'abductor-strength', { value: { grade: strength }, stage: 'native' });
  const wanted: Readonly<Record<string, Measure | undefined>> = {
    'head-diameter': head,
    'neck-diameter': neck,
    'liner-type': liner === undefined ? undefined : { value: { code: liner } },
    'mobile-liner-diameter': mobile,
  };
  for (const [code, measure] of Object.entries(wanted))
    changed = measure ? withMeasure(changed, code, measure) : withoutMeasure(changed, code, 'planned');
  return changed;
};

/** Difference before surgery and planned change. */
const LENGTHS: readonly (readonly [Measure | undefined, Measure | undefined])[] = [
  [mm(0), mm(10)],
  [mm(0), mm(10.1)],
  [mm(-18), mm(16)],
  [mm(0), mm(12)],
  [mm(5), mm(5)],
  [mm(5), mm(5.1)],
  [mm(-3), { value: 1.3, unit: 'cm' }],
  [mm(-3), { value: 1.4, unit: 'cm' }],
  [mm({ low: 0, high: 5 }), mm(8)],
  [mm({ low: 3, high: 5 }), mm(8)],
  [undefined, mm(12)],
  [mm(12), undefined],
  [mm(150), mm(0)],
  [mm(0), mm(90)],
  [{ ...mm(0), on: LATER }, mm(14)],
  [{ ...mm(12), stage: 'postoperative' }, mm(8)],
];

const lengths: Change = (record, turn) => {
  const [difference, planned] = item(LENGTHS, turn);
  const bare = withoutMeasure(
    withoutMeasure(record, 'leg-length-discrepancy', 'native'),
    'leg-length-change',
    'planned',
  );
  const stated = difference
    ? withMeasure(bare, 'leg-length-discrepancy', { stage: 'native', ...difference })
    : bare;
  return planned ? withMeasure(stated, 'leg-length-change', planned) : stated;
};

/** Value sets of problems that make dislocation more likely, and of those too vague to say so. */
const PROBLEMS = [
  'parkinson-disease',
  'dementia',
  'multiple-sclerosis',
  'cerebral-palsy',
  'muscular-dystrophy',
  'paresis',
  'spine-ankylosis',
  'spine-deformity',
  'lumbar-fusion',
  'fusion-site-unclear',
  'irradiation-site-unclear',
  'prosthesis-dislocation',
  'prosthesis-recurrent-dislocation',
  'prosthesis-instability',
  'hip-prosthesis-explanted',
  'greater-trochanter-nonunion',
  'metal-debris-unclear',
  'hip-muscle-injury-unclear',
  'femoral-neck-fracture',
  'failed-hip-fixation',
  'hip-dysplasia',
  'slipped-capital-femoral-epiphysis',
];
const PROCEDURES = [
  'closed-reduction-of-prosthesis',
  'hip-closed-reduction',
  'hip-explantation-or-spacer',
  'hip-abductor-repair',
  'hip-osteotomy',
  'osteotomy-site-unstated',
  'acetabulum-reposition',
  'lumbar-spinal-fusion',
  'pelvic-radiotherapy',
  'radiotherapy-site-unstated',
];
const NEUROLOGICAL = PROBLEMS.slice(0, 6);
const FRACTURE_PHASES = ['S72.001A', 'S72.002B', 'S72.012D', 'S72.041G', 'S72.042K', 'S72.031A'];

/** Sound muscles and a small head, so that the history decides. */
function withSmallHead(record: ChangedRecord): ChangedRecord {
  const strong = withMeasure(record, 'abductor-strength', { value: { grade: 5 }, stage: 'native' });
  return withMeasure(withMeasure(strong, 'head-diameter', mm(28)), 'neck-diameter', mm(12));
}

const problem: Change = (record, turn) => {
  const sets = turn % 3 === 0 ? NEUROLOGICAL : PROBLEMS;
  const code = item(listedIn(item(sets, turn)), turn * 7);
  return withProblem(withSmallHead(record), { code, state: item(STATES, turn), site: siteAt(record, turn) });
};

const procedure: Change = (record, turn) => {
  const code = item(listedIn(item(PROCEDURES, turn)), turn * 7);
  return withProcedure(withSmallHead(record), {
    code,
    state: item(STATES, turn),
    site: siteAt(record, turn),
  });
};

function siteAt({ side }: ChangedRecord, turn: number): Side | 'none' {
  return item([side, 'none', otherSide(side), side, side], turn);
}

const fracture: Change = (record, turn) =>
  withProblem(withSmallHead(record), {
    code: { system: 'http://hl7.org/fhir/sid/icd-10-cm', code: item(FRACTURE_PHASES, turn) },
    state: 'active',
    site: 'none',
  });

const listed = (set: string, turn: number) =>
  item(
    listedIn(set).filter((code) => code.system === TOTAL_HIP.system && sideStatedBy(code) === undefined),
    turn,
  );

const ORDERS: readonly Change[] = [
  (record, turn) => withOrder(record, listed('hip-hemiarthroplasty', turn)),
  (record, turn) => withOrder(record, listed('hip-resurfacing', turn)),
  (record) => withOrder(record, { ...TOTAL_HIP, code: '112727005' }),
  (record) => withOrder(record, { ...TOTAL_HIP, code: '449039004' }),
  (record) => withSecondOrder(record, TOTAL_HIP, otherSide(record.side)),
  (record) => withOrder(record, undefined),
  (record) =>
    withProblem(withOrder(record, undefined), {
      code: { system: 'http://hl7.org/fhir/sid/icd-10-cm', code: 'G83.11' },
      state: 'active',
      site: 'none',
    }),
];

const UNREAD: readonly Change[] = [
  (record) => withoutSet(record, 'conditions'),
  (record) => withoutSet(record, 'procedures'),
  (record) =>
    withResource(record, { resourceType: 'Condition', code: { text: 'shaky' }, onsetDateTime: '2026-10-12' }),
  (record) =>
    withResource(record, { resourceType: 'Procedure', status: 'completed', code: { text: 'back surgery' } }),
];

const CHANGES: readonly Change[] = [
  (record, turn) => withMeasure(record, 'cup-inclination', item(PLANNED_INCLINATIONS, turn)),
  (record, turn) => withMeasure(record, 'cup-anteversion', item(PLANNED_ANTEVERSIONS, turn)),
  measuredOther,
  retainedCup,
  bearing,
  lengths,
  problem,
  procedure,
  (record, turn) => (turn % 4 === 0 ? fracture(record, turn / 4) : problem(record, turn + 500)),
  (record, turn) => item(ORDERS, turn)(record, turn),
  (record, turn) => item(UNREAD, turn)(withSmallHead(record), turn),
  (record, turn) => bearing(problem(record, turn + 300), turn + 7),
];

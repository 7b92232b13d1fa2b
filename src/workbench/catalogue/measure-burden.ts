import { compareText } from '../../base/order.js';
import type { Advisor, Hook } from '../../advice/index.js';
import { evaluatePatient } from '../../advice/evaluate-patient.js';
import type { HookAnswer } from '../../advice/evaluate-patient.js';
import { inputsFromBundle } from '../../advice/hook-inputs.js';
import type { EvaluationSetting } from '../../advice/hook-inputs.js';
import { BOOKING_DAY } from '../synthesize/synthesize-truths.js';
import { synthesizeHips } from '../synthesize/synthesize-hips.js';
import type { Profile } from '../synthesize/synthesize-hips.js';
import { TRIED_HOOKS } from '../test-patients.js';
import { alikePairs } from './alike.js';
import type { Burden, BurdenRun, ProfileBurden } from './burden-schema.js';

/** The burden limits are about so many; a run of the first is short enough for a test. */
const WHOLE = 1000;
const FIRST = 40;
const SEED = 1;

const BURDEN_NOW = `${BOOKING_DAY}T09:00:00Z`;

/** The call at which each profile's rules are counted. */
const COUNTED: Readonly<Record<Profile, Hook>> = {
  'record-like': 'appointment-book',
  'fully-planned': 'order-sign',
};

export interface BurdenParts {
  readonly advisor: Advisor;
  readonly engine: string;
  readonly onPatient?: (done: number, all: number) => void;
}

/** Runs the rules over invented hips: what is said of the first few, of all, and which rules speak alike. */
export async function measureBurden(parts: BurdenParts): Promise<Burden> {
  const all = 2 * WHOLE;
  const recordLike = await patientsOf('record-like', WHOLE, parts, (done) => parts.onPatient?.(done, all));
  const fullyPlanned = await patientsOf('fully-planned', WHOLE, parts, (done) =>
    parts.onPatient?.(WHOLE + done, all),
  );
  const run = (count: number): BurdenRun => runOf(recordLike, fullyPlanned, count, parts);
  const fired = fullyPlanned.map(({ fires }) => fires);
  return { seed: SEED, now: BURDEN_NOW, whole: run(WHOLE), first: run(FIRST), alike: alikePairs(fired) };
}

/** The first hips alone. */
export async function measureFirst(parts: BurdenParts): Promise<BurdenRun> {
  const recordLike = await patientsOf('record-like', FIRST, parts);
  const fullyPlanned = await patientsOf('fully-planned', FIRST, parts);
  return runOf(recordLike, fullyPlanned, FIRST, parts);
}

/** What the rules said of one patient. */
interface PatientBurden {
  /** Rules that fire at the counted call. */
  readonly fires: ReadonlySet<string>;
  /** Rules that have a card at the counted call. */
  readonly cards: ReadonlySet<string>;
  readonly hooks: ReadonlyMap<Hook, CallBurden>;
}

interface CallBurden {
  readonly cards: number;
  readonly uncritical: number;
  readonly isWarned: boolean;
  readonly isOver: boolean;
}

async function patientsOf(
  profile: Profile,
  count: number,
  { advisor, engine }: BurdenParts,
  onPatient: (done: number) => void = () => undefined,
): Promise<readonly PatientBurden[]> {
  const setting: EvaluationSetting = { rulebook: advisor.rulebook, now: BURDEN_NOW, engine };
  const patients: PatientBurden[] = [];
  for (const { id, bundle } of synthesizeHips({ seed: SEED, count, profile })) {
    const found = await evaluatePatient(inputsFromBundle(bundle, TRIED_HOOKS, setting), advisor);
    const { answers, silent, refused } = found;
    const faults = answers.flatMap(({ answer }) => answer.faults.map(({ rule }) => rule));
    if (refused.length + faults.length > 0)
      throw new Error(
        `${id} could not be evaluated: ${[...refused.map(({ why }) => why), ...faults].join('; ')}`,
      );
    const counted = answers.find(({ hook }) => hook === COUNTED[profile]);
    patients.push({
      fires: new Set(counted ? firesIn(counted) : []),
      cards: new Set(counted?.answer.cards.map(({ source }) => source.topic.code)),
      hooks: new Map([
        ...silent.map((hook) => [hook, SILENT] as const),
        ...answers.map((answer) => [answer.hook, callBurden(answer, advisor)] as const),
      ]),
    });
    onPatient(patients.length);
  }
  return patients;
}

const SILENT: CallBurden = { cards: 0, uncritical: 0, isWarned: false, isOver: false };

function firesIn({ answer }: HookAnswer): readonly string[] {
  return answer.hips.flatMap(({ advisories }) =>
    advisories.flatMap(({ rule, outcome }) => (outcome === 'fires' ? [rule] : [])),
  );
}

function callBurden({ answer: { cards, kept } }: HookAnswer, { rulebook }: Advisor): CallBurden {
  const rules = new Set(rulebook.rules.map(({ id }) => id));
  const ofRules = cards.filter(({ source }) => rules.has(source.topic.code));
  return {
    cards: cards.length,
    uncritical: ofRules.filter(({ indicator }) => indicator !== 'critical').length,
    isWarned: cards.some(({ indicator }) => indicator !== 'info'),
    isOver: kept.some(({ why }) => why === 'ceiling'),
  };
}

function runOf(
  recordLike: readonly PatientBurden[],
  fullyPlanned: readonly PatientBurden[],
  count: number,
  { advisor }: BurdenParts,
): BurdenRun {
  const rules = advisor.rulebook.rules.map(({ id }) => id).sort(compareText);
  return {
    count,
    recordLike: profileBurden(recordLike.slice(0, count), rules),
    fullyPlanned: profileBurden(fullyPlanned.slice(0, count), rules),
  };
}

function profileBurden(patients: readonly PatientBurden[], rules: readonly string[]): ProfileBurden {
  return {
    hooks: TRIED_HOOKS.map((hook) => {
      const calls = patients.flatMap(({ hooks }) => hooks.get(hook) ?? []);
      const most = Math.max(0, ...calls.map(({ cards }) => cards));
      return {
        hook,
        calls: calls.length,
        callsByCards: Array.from(
          { length: most + 1 },
          (_none, cards) => calls.filter((call) => call.cards === cards).length,
        ),
        callsWithWarning: calls.filter(({ isWarned }) => isWarned).length,
        mostUncritical: Math.max(0, ...calls.map(({ uncritical }) => uncritical)),
        overCeiling: calls.filter(({ isOver }) => isOver).length,
      };
    }),
    rules: rules.map((rule) => ({
      rule,
      fires: patients.filter(({ fires }) => fires.has(rule)).length,
      cards: patients.filter(({ cards }) => cards.has(rule)).length,
    })),
  };
}

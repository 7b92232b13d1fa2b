import { setImmediate } from 'node:timers/promises';
import { computeAll } from '../../engine/compute.js';
import type { ComputationTable } from '../../engine/computation.js';
import { deriveFacts } from '../../engine/derive.js';
import type { Decide } from '../../engine/decide.js';
import { explain, leafFromFacts } from '../../engine/decide.js';
import type { HipEvaluation } from '../../engine/evaluate.js';
import { evaluate } from '../../engine/evaluate.js';
import type { FactValue } from '../../facts/fact.js';
import type { HipRecord, PatientRecord } from '../../facts/patient-record.js';
import { conditionFacts, conditionsOf } from '../../rulebook/condition-facts.js';
import type { Entry, Rule, Rulebook } from '../../rulebook/types.js';
import type { PlacedRule } from './check-reach.js';
import { CONDITIONAL, isOpposite } from './directions.js';
import type { Fault } from './finding.js';
import type { ReadOption } from './option-directions.js';
import { readOptions } from './option-directions.js';
import { opposingAims } from './opposing-aims.js';
import { pairedHips } from './paired-hips.js';
import type { Aim, Complete, Sample } from './sampled-hips.js';
import { sampledHips } from './sampled-hips.js';

export interface OpposingResult {
  readonly faults: readonly Fault[];
  /** In how many of the sampled states each rule fired. */
  readonly fired: ReadonlyMap<string, number>;
}

/**
 * Runs the engine on sampled hips and looks for two rules that fire on the same one and point opposite ways. Each pair
 * of options is told once, with the first state it was seen on and how many there were.
 */
export async function checkOpposing(
  rules: readonly PlacedRule[],
  rulebook: Rulebook,
  computations: ComputationTable,
  { sample, onProgress }: { readonly sample: Sample; readonly onProgress: (done: number) => void },
): Promise<OpposingResult> {
  const decide = plainDecide(rulebook.rules);
  const fired = new Map<string, number>(rulebook.rules.map(({ id }) => [id, 0]));
  const clashes = new Map<string, Clash & { count: number }>();
  let done = 0;
  const aims = sample.count > 0 ? opposingAims(rulebook) : [];
  const complete = completing(rulebook, computations);
  for (const record of hipsFor(aims, rulebook, { ...sample, complete })) {
    // Everything below is done without waiting: now and then the program must hear that it is to stop.
    if (done % BETWEEN_PAUSES === 0) await setImmediate();
    onProgress(++done);
    const entry = ENTRY_OF[record.construct];
    const hip = await evaluateHip(record, { rulebook, computations, decide, entry });
    const firing = hip.advisories.flatMap((advisory) => {
      const rule = rulebook.rules.find(({ id }) => id === advisory.rule);
      return rule && advisory.outcome === 'fires' ? [{ rule, advisory }] : [];
    });
    for (const { rule } of firing) fired.set(rule.id, (fired.get(rule.id) ?? 0) + 1);
    const heard = firing.filter(({ rule }) => rule.entries.includes(entry));
    const speaking = new Map(heard.map(({ rule }) => [rule.id, rule]));
    const options = heard.flatMap(({ rule, advisory }) =>
      leavesTheWord(rule, speaking) ? [] : readOptions({ rule, rulebook, facts: hip.facts, advisory }),
    );
    for (const clash of clashesIn(options, hip)) {
      const key = `${placeOf(clash.one)} ${placeOf(clash.other)}`;
      const known = clashes.get(key);
      if (known) known.count++;
      else clashes.set(key, { ...clash, count: 1 });
    }
  }
  const unmet = rules.filter(({ rule }) => sample.count > 0 && fired.get(rule.id) === 0);
  return {
    faults: [
      ...[...clashes.values()].map((clash) => faultOf(clash, rules)),
      ...unmet.map(({ file }) => unmetNote(file, sample)),
    ],
    fired,
  };
}

/** Whether the options of a rule are told by nobody, because another rule's card speaks in its place. */
export function leavesTheWord({ yieldsTo = [] }: Rule, speaking: ReadonlyMap<string, Rule>): boolean {
  return yieldsTo.some((id) => {
    const other = speaking.get(id);
    return other !== undefined && !leavesTheWord(other, speaking);
  });
}

/** From so many states on, half of them are those in which edge values meet pair by pair. */
const WITH_PAIRS = 1_000;

function* hipsFor(
  aims: readonly Aim[],
  rulebook: Rulebook,
  { complete, seed, count }: Sample & { readonly complete: Complete },
): Iterable<HipRecord> {
  const { amid, apart } = count < WITH_PAIRS ? { amid: [], apart: [] } : pairedHips(rulebook, complete, seed);
  const paired = [...amid, ...apart].slice(0, Math.floor(count / 2));
  yield* sampledHips(aims, rulebook, { complete, seed, count: count - paired.length });
  yield* paired;
}

/** Derives and computes what conditions ask about, as the engine does before it decides. */
export function completing(rulebook: Rulebook, table: ComputationTable): Complete {
  const asked = new Set(rulebook.rules.flatMap(conditionsOf).flatMap(conditionFacts));
  return ({ facts, construct }) => {
    const derived = deriveFacts(facts, construct, rulebook.knowledge);
    const computed = computeAll({ rulebook, table, facts: derived }, asked);
    return new Map([...derived, ...[...computed].map(([id, { fact }]) => [id, fact] as const)]);
  };
}

/** A rule that never met the others may oppose them unseen: that is said. */
function unmetNote(file: string, { count }: Sample): Fault {
  return {
    check: 'opposing',
    severity: 'note',
    file,
    path: 'when',
    expected: 'a sampled hip on which it fires, beside the other rules',
    found: `none among ${count}`,
  };
}

/** Where a construct's options are read: at signing for a planned one, on the chart for one in place. */
const ENTRY_OF: Readonly<Record<HipRecord['construct'], Entry>> = {
  planned: 'order-sign',
  'in-place': 'patient-view',
};

const BETWEEN_PAUSES = 32;

/** Decides by walking the conditions: the same trees as the engine in the service, without its library. */
function plainDecide(rules: readonly Rule[]): Decide {
  return (facts) => {
    const read = leafFromFacts(facts);
    return Promise.resolve(
      new Map(
        rules.map((rule) => [
          rule.id,
          { appliesWhen: explain(rule.appliesWhen, read), when: explain(rule.when, read) },
        ]),
      ),
    );
  };
}

interface Run {
  readonly rulebook: Rulebook;
  readonly computations: ComputationTable;
  readonly decide: Decide;
  readonly entry: Entry;
}

export async function evaluateHip(hip: HipRecord, run: Run): Promise<HipEvaluation> {
  const record: PatientRecord = {
    recognised: 'yes',
    operations: [],
    implanted: [],
    hips: [hip],
    notes: [],
    sets: {},
    unresolved: [],
    silenced: [],
    leniencies: [],
    users: [],
    resources: [],
  };
  const { hips, faults } = await evaluate({ record, ...run });
  const [first] = hips;
  if (!first) throw new Error('no hip evaluated', { cause: faults[0]?.error });
  return first;
}

export interface Clash {
  readonly one: ReadOption;
  readonly other: ReadOption;
  readonly subject: string;
  readonly state: HipEvaluation;
}

export function clashesIn(options: readonly ReadOption[], state: HipEvaluation): readonly Clash[] {
  return options.flatMap((one, index) =>
    options.slice(index + 1).flatMap((other) => {
      if (one.rule === other.rule || CONDITIONAL.test(one.text) || CONDITIONAL.test(other.text)) return [];
      const subject = one.directions.find((mine) =>
        other.directions.some((theirs) => isOpposite(mine, theirs)),
      );
      return subject ? [{ one, other, subject: subject.subject, state }] : [];
    }),
  );
}

function placeOf({ rule, finding, option }: ReadOption): string {
  return `${rule} ${finding} ${option}`;
}

function faultOf(
  { one, other, subject, state, count }: Clash & { readonly count: number },
  rules: readonly PlacedRule[],
): Fault {
  const placed = [one, other].flatMap(
    ({ rule }) => rules.find((candidate) => candidate.rule.id === rule) ?? [],
  );
  return {
    check: 'opposing',
    severity: 'error',
    file: placed[0]?.file ?? '',
    path: `findings[${one.finding}].options[${one.option}]`,
    expected: `one way for the ${subject} of one hip, or words that say the rules disagree`,
    found: `"${one.text}" while ${other.rule} says "${other.text}" (${count} sampled states, the first: ${stateText(state, placed)})`,
  };
}

/** What both rules ask about, as far as it is known; what is not recorded is left out. */
function stateText({ facts, computed }: HipEvaluation, placed: readonly PlacedRule[]): string {
  const asked = new Set(
    placed.flatMap(({ rule }) => [...conditionFacts(rule.appliesWhen), ...conditionFacts(rule.when)]),
  );
  return [...asked]
    .flatMap((id) => {
      const state = (facts.get(id) ?? computed.get(id)?.fact)?.state;
      return state?.status === 'present' ? [`${id} ${valueText(state.value)}`] : [];
    })
    .join(', ');
}

function valueText(value: FactValue): string {
  switch (value.kind) {
    case 'quantity':
      return value.interval.low === value.interval.high
        ? String(value.interval.low)
        : `${value.interval.low} to ${value.interval.high}`;
    case 'code':
      return value.codes.join(' and ');
    case 'flag':
      return String(value.flag);
    case 'recorded':
      return 'recorded';
  }
}

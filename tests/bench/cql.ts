/**
 * Patients per second of one core: five rules written in ELM and run by cql-execution on FHIR records, beside our
 * advise() on the same records, with all rules and with those five, and beside our engine deciding those five on facts
 * already read. All in turn in one run, in processor time, so that the machine's speed and other work cancel out.
 * Prints ratios; asserts nothing, but stops when outcomes differ (tests/oracles/elm compares them on 1,000 patients).
 */
import { advise, newAdvisor } from '../../src/advice/index.js';
import type { AdviceInput, Advisor } from '../../src/advice/index.js';
import { compileDecide } from '../../src/engine/compiled-decide.js';
import type { FactMap } from '../../src/engine/decide.js';
import { jsonRulesDecide } from '../../src/engine/json-rules-decide.js';
import { PROFILES, synthesizeHips } from '../../src/workbench/synthesize/synthesize-hips.js';
import { NOW, advisor, inputFor, rulebook } from '../advice/patients.js';
import { RULES, newCql } from '../oracles/elm/cql.js';
import type { CqlAnswer, Place, SentRecord } from '../oracles/elm/cql.js';

const ROUNDS = Number(process.env['KOTYLE_BENCH_ROUNDS'] ?? 7);
const PATIENTS_EACH = 60;

interface Patient {
  readonly record: SentRecord;
  readonly input: AdviceInput;
  readonly side: string;
  /** What advise() read of the planned hip. */
  readonly facts: FactMap;
}

const names: readonly string[] = RULES;
const fiveRules = rulebook.rules.filter(({ id }) => names.includes(id));
const fiveOnly = newAdvisor({ ...rulebook, rules: fiveRules });

async function planned(profile: (typeof PROFILES)[number]): Promise<readonly Patient[]> {
  const patients: Patient[] = [];
  for (const { id, bundle } of synthesizeHips({ seed: 20_261_124, count: PATIENTS_EACH, profile })) {
    const input = inputFor(bundle, 'order-sign');
    if (!input) throw new Error(`nothing to sign for ${id}`);
    const read: FactMap[] = [];
    const keeping: Advisor = {
      ...advisor,
      decide: (facts) => {
        read.push(facts);
        return advisor.decide(facts);
      },
    };
    const advice = await advise(input, keeping);
    const [facts] = read;
    const hip = advice.kind === 'answer' ? advice.hips[0]?.hip : undefined;
    if (!facts || hip === undefined) throw new Error(`no hip of ${id}`);
    const record = { id, bundle, isProblemListRead: true, areProceduresRead: true };
    patients.push({ record, input, side: hip, facts });
  }
  return patients;
}

/** Every patient's planned hip, those of one place together. */
async function askCql(patients: readonly Patient[], ask: Ask): Promise<readonly CqlAnswer[]> {
  const answers: CqlAnswer[] = [];
  for (const hip of ['left', 'right', 'unknown']) {
    const here = patients.filter(({ side }) => side === hip);
    answers.push(
      ...(await ask(
        { hip, construct: 'planned' },
        here.map(({ record }) => record),
      )),
    );
  }
  return answers;
}

type Ask = (place: Place, records: readonly SentRecord[]) => Promise<readonly CqlAnswer[]>;
type Work = (patients: readonly Patient[], ask: Ask) => Promise<unknown>;

const engine = jsonRulesDecide(fiveRules);
const compiled = compileDecide(fiveRules);

const WORKS = {
  'cql-execution, five rules from FHIR': askCql,
  [`advise(), all ${rulebook.rules.length} rules and cards`]: async (patients) => {
    for (const { input } of patients) await advise(input, advisor);
  },
  'advise(), the five rules and cards': async (patients) => {
    for (const { input } of patients) await advise(input, fiveOnly);
  },
  'json-rules-engine, five rules on facts': async (patients) => {
    for (const { facts } of patients) await engine(facts);
  },
  'compiled, five rules on facts': (patients) =>
    Promise.resolve(patients.map(({ facts }) => compiled.decide(facts))),
} as const satisfies Readonly<Record<string, Work>>;

function processorSeconds(): number {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1e6;
}

/** Work is repeated until a round takes this long. */
const ROUND_SECONDS = 0.3;

async function rateOf(work: Work, patients: readonly Patient[], ask: Ask): Promise<number> {
  const start = processorSeconds();
  let done = 0;
  do {
    await work(patients, ask);
    done += patients.length;
  } while (processorSeconds() - start < ROUND_SECONDS);
  return done / (processorSeconds() - start);
}

async function refuseDifference(patients: readonly Patient[], ask: Ask): Promise<void> {
  for (const patient of patients) {
    const [answer] = await askCql([patient], ask);
    const advice = await advise(patient.input, advisor);
    const advisories = advice.kind === 'answer' ? (advice.hips[0]?.advisories ?? []) : [];
    for (const rule of RULES)
      if (advisories.find((advisory) => advisory.rule === rule)?.outcome !== answer?.outcomes[rule])
        throw new Error(`${patient.record.id}: two outcomes of ${rule}`);
  }
}

function median(values: readonly number[]): number {
  return [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)] ?? NaN;
}

const works = Object.entries(WORKS);
for (const profile of PROFILES) {
  const patients = await planned(profile);
  const cql = newCql(
    patients.map(({ record }) => record),
    rulebook,
    NOW,
  );
  const ask: Ask = (place, records) => cql.ask(place, records);
  await refuseDifference(patients, ask);
  const rounds: (readonly number[])[] = [];
  // The first round pays for compiling.
  for (let round = 0; round <= ROUNDS; round += 1) {
    const rates: number[] = [];
    for (const [, work] of works) rates.push(await rateOf(work, patients, ask));
    if (round > 0) rounds.push(rates);
  }
  process.stdout.write(
    `${profile}: ${patients.length} patients, one planned hip each, per second of one core; median of ${ROUNDS} rounds\n`,
  );
  works.forEach(([name], index) => {
    const rate = median(rounds.map((rates) => rates[index] ?? NaN));
    const ratio = median(rounds.map((rates) => (rates[index] ?? NaN) / (rates[0] ?? NaN)));
    process.stdout.write(
      `${name.padEnd(40)} ${rate.toFixed(0).padStart(8)}/s ${(1000 / rate).toFixed(3).padStart(9)} ms ${ratio.toFixed(2).padStart(8)} x cql-execution\n`,
    );
  });
}

/**
 * Hips decided per second of one core: json-rules-engine, the compiled trees and the compiled outcomes, beside a run
 * that only parses the JSON of the same hips' records. All in turn in one run, so that the machine's speed cancels out;
 * processor time and not the clock, so that other work on the machine does too. Prints ratios; asserts nothing, but
 * stops when the evaluators differ.
 */
import { advise } from '../../src/advice/index.js';
import { compileDecide } from '../../src/engine/compiled-decide.js';
import type { FactMap } from '../../src/engine/decide.js';
import { jsonRulesDecide } from '../../src/engine/json-rules-decide.js';
import { advisor, inputFor, testPatients } from '../advice/patients.js';

const ROUNDS = Number(process.env['KOTYLE_BENCH_ROUNDS'] ?? 15);
/** Work is repeated until a round takes this long. */
const ROUND_MS = 200;

interface Hip {
  readonly facts: FactMap;
  /** The record it was read from. */
  readonly text: string;
}

/** Every hip of the test patients, at each hook. */
async function readHips(): Promise<readonly Hip[]> {
  const hips: Hip[] = [];
  for (const { bundle, expected } of testPatients()) {
    const text = JSON.stringify(bundle);
    for (const hook of ['appointment-book', 'order-sign', 'patient-view']) {
      const input = inputFor(bundle, hook, expected.now);
      const decide = (facts: FactMap): ReturnType<typeof advisor.decide> => {
        hips.push({ facts, text });
        return advisor.decide(facts);
      };
      if (input) await advise(input, { ...advisor, decide });
    }
  }
  return hips;
}

const { rules } = advisor.rulebook;
const engine = jsonRulesDecide(rules);
const compiled = compileDecide(rules);

type Work = (hip: Hip, index: number) => unknown;

const WORKS = {
  'json-rules-engine, trees': ({ facts }) => engine(facts),
  'compiled, trees': ({ facts }) => compiled.decide(facts),
  'compiled, outcomes': ({ facts }) => compiled.outcomes(facts),
  'JSON.parse of the record': ({ text }) => JSON.parse(text) as unknown,
  'compiling all rules': () => compileDecide(rules),
  'compiling one rule': (_, index) => compileDecide(rules.slice(index % rules.length).slice(0, 1)),
  'one rule changed among all': (_, index) =>
    compiled.withRules(rules.map((rule, at) => (at === index % rules.length ? { ...rule } : rule))),
} as const satisfies Readonly<Record<string, Work>>;

type Name = keyof typeof WORKS;
const NAMES = Object.keys(WORKS) as readonly Name[];
const BESIDE: readonly Name[] = ['json-rules-engine, trees', 'JSON.parse of the record'];

/** Processor seconds of the main thread and its helpers so far. */
function processorSeconds(): number {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1e6;
}

/** How often per second of one core the work was done, over all hips again and again. */
async function rateOf(work: Work, hips: readonly Hip[]): Promise<number> {
  const end = performance.now() + ROUND_MS;
  const start = processorSeconds();
  let done = 0;
  do {
    for (const [index, hip] of hips.entries()) {
      const result = work(hip, index);
      if (result instanceof Promise) await result;
    }
    done += hips.length;
  } while (performance.now() < end);
  return done / (processorSeconds() - start);
}

async function refuseDifference(hips: readonly Hip[]): Promise<void> {
  for (const { facts } of hips) {
    const [one, other] = [await engine(facts), compiled.decide(facts)];
    for (const [rule, decision] of one)
      if (JSON.stringify(decision) !== JSON.stringify(other.get(rule)))
        throw new Error(`${rule}: two answers`);
  }
}

function median(values: readonly number[]): number {
  return [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)] ?? NaN;
}

const hips = await readHips();
await refuseDifference(hips);
const rounds: Readonly<Record<Name, number>>[] = [];
// The first round pays for compiling.
for (let round = 0; round <= ROUNDS; round += 1) {
  const rates = {} as Record<Name, number>;
  for (const name of NAMES) rates[name] = await rateOf(WORKS[name], hips);
  if (round > 0) rounds.push(rates);
}
process.stdout.write(
  `${hips.length} hips of the test patients, ${rules.length} rules, per second of one core; median of ${ROUNDS} rounds\n`,
);
for (const name of NAMES) {
  const rate = median(rounds.map((rates) => rates[name]));
  const ratios = BESIDE.map((other) => median(rounds.map((rates) => rates[name] / rates[other])));
  process.stdout.write(
    `${name.padEnd(28)} ${rate.toFixed(0).padStart(8)}/s ${(1e6 / rate).toFixed(1).padStart(7)} us ${BESIDE.map(
      (other, index) => `  ${(ratios[index] ?? NaN).toFixed(2).padStart(6)} x ${other}`,
    ).join('')}\n`,
  );
}

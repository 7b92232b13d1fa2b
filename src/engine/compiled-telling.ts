import type { Fact } from '../facts/fact.js';
import { compareFact, foundIn } from './compare.js';
import { slotsOf, truthsOf } from './compiled-program.js';
import type { GroupStep, LeafStep, Program, Slots } from './compiled-program.js';
import { BROKEN, truthOf, UNKNOWN } from './compiled-truth.js';
import type { FactMap } from './decide.js';
import type { ComparisonExplanation, Explanation } from './explanation.js';

/** The explanations of a program on one set of facts, each made when first asked for. */
export interface Telling {
  readonly program: Program;
  readonly slots: Slots;
  readonly truths: Uint8Array;
  readonly told: Explanation[];
}

export function newTelling(program: Program, facts: FactMap): Telling {
  const slots = slotsOf(program, facts);
  return { program, slots, truths: truthsOf(program, slots), told: [] };
}

/** The explanation of a step; throws what its first broken leaf throws. */
export function tell(index: number, telling: Telling): Explanation {
  const before = telling.told[index];
  if (before) return before;
  const step = telling.program.steps[index];
  if (!step) throw new RangeError(`expected a step of the program, found ${index}`);
  const bit = telling.truths[index] ?? BROKEN;
  const explanation =
    step.kind === 'leaf' ? tellLeaf(step, bit, telling.slots[step.slot]) : tellGroup(step, bit, telling);
  telling.told[index] = explanation;
  return explanation;
}

/** The facts whose knowledge would settle an unknown step, as `needsOf` finds them in its explanation. */
export function stepNeeds(index: number, telling: Telling): readonly string[] {
  const needs = new Set<string>();
  collectNeeds(index, telling, needs);
  return [...needs].sort();
}

function collectNeeds(index: number, telling: Telling, needs: Set<string>): void {
  const step = telling.program.steps[index];
  if (!step || telling.truths[index] !== UNKNOWN) return;
  switch (step.kind) {
    case 'leaf':
      for (const need of needsOfFact(telling.slots[step.slot] ?? NOT_A_FACT)) needs.add(need);
      break;
    case 'not':
      collectNeeds(step.member, telling, needs);
      break;
    default:
      for (const member of step.members) collectNeeds(member, telling, needs);
  }
}

/** A node while it is written: to grow it member by member is several times faster than to merge objects. */
type Draft<Node> = { -readonly [Member in keyof Node]: Node[Member] };

/** Members come first: a broken one throws, and a broken group has no truth to tell. */
function tellGroup(step: GroupStep, bit: number, telling: Telling): Explanation {
  let node: Draft<Exclude<Explanation, ComparisonExplanation>>;
  if (step.kind === 'not') {
    const child = tell(step.member, telling);
    node = { kind: step.kind, truth: truthOf(bit), child };
  } else {
    const children = step.members.map((member) => tell(member, telling));
    node = { kind: step.kind, truth: truthOf(bit), children };
  }
  if (step.name !== undefined) node.name = step.name;
  return node;
}

/** Stands where nobody made a fact: comparing it throws, as it does for json-rules-engine. */
const NOT_A_FACT = {} as Fact;

function tellLeaf({ leaf }: LeafStep, bit: number, fact = NOT_A_FACT): ComparisonExplanation {
  const { operator, limit, name } = leaf;
  if (bit === BROKEN) compareFact(fact, operator, limit.value);
  const node: Draft<ComparisonExplanation> = {
    kind: 'compare',
    fact: leaf.fact,
    operator,
    limit: limit.value,
    truth: truthOf(bit),
  };
  tellFound(node, fact);
  if (node.truth === 'unknown') tellUnknown(node, fact);
  if (name === undefined && limit.parameter === undefined) return node;
  if (name !== undefined) node.name = name;
  if (limit.parameter !== undefined) node.parameter = limit.parameter;
  if (limit.unit !== undefined) node.unit = limit.unit;
  return node;
}

/** What was found, and the measuring band where it was allowed for. */
function tellFound(node: Draft<ComparisonExplanation>, { state, error }: Fact): void {
  if (state.status !== 'present') return;
  node.found = foundIn(state.value).found;
  const allowed = node.operator === 'clearly-above' || node.operator === 'clearly-below';
  if (allowed && error !== undefined && error > 0) node.error = error;
}

/** Why it can't be told, and what would tell: the fact is not known, or its interval spans the limit. */
function tellUnknown(node: Draft<ComparisonExplanation>, fact: Fact): void {
  node.reason = fact.state.status === 'unknown' ? fact.state.reason : 'spans-limit';
  node.needs = needsOfFact(fact);
}

function needsOfFact({ id, state, narrowedBy }: Fact): readonly string[] {
  if (state.status === 'unknown') return state.needs;
  return narrowedBy !== undefined && narrowedBy.length > 0 ? narrowedBy : [id];
}

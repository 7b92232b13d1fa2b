import type { Fact } from '../facts/fact.js';
import type { Condition, Limit } from '../rulebook/types.js';
import { compileComparison } from './compiled-comparison.js';
import type { CompiledComparison } from './compiled-comparison.js';
import { allOf, anyOf, BROKEN, notOf } from './compiled-truth.js';
import type { FactMap } from './decide.js';

type Leaf = Extract<Condition, { kind: 'leaf' }>;

export interface LeafStep {
  readonly kind: 'leaf';
  readonly leaf: Leaf;
  /** Where the leaf's fact stands among those the program asks about. */
  readonly slot: number;
  readonly compare: CompiledComparison;
}

export type GroupStep =
  | { readonly kind: 'not'; readonly name: string | undefined; readonly member: number }
  | { readonly kind: 'all' | 'any'; readonly name: string | undefined; readonly members: readonly number[] };

export type Step = LeafStep | GroupStep;

/**
 * Conditions as one list of steps, the members of a group before the group. What is asked alike in several places is
 * one step: decided once, and told by one node that the explanations share.
 */
export interface Program {
  readonly steps: readonly Step[];
  /** The facts asked about, each once. */
  readonly asked: readonly string[];
}

/** A program that conditions are still put into, with what each step and each fact is known by. */
export interface OpenProgram {
  readonly steps: Step[];
  readonly asked: string[];
  readonly stepOf: Map<string, number>;
  readonly slotOf: Map<string, number>;
}

export function emptyProgram(): OpenProgram {
  return { steps: [], asked: [], stepOf: new Map(), slotOf: new Map() };
}

/** A program with all the steps of another, to put more into. */
export function copyOf({ steps, asked, stepOf, slotOf }: OpenProgram): OpenProgram {
  return { steps: [...steps], asked: [...asked], stepOf: new Map(stepOf), slotOf: new Map(slotOf) };
}

/** Puts a condition in, and answers with the step that decides it. */
export function addCondition(condition: Condition, program: OpenProgram): number {
  const { kind, name } = condition;
  switch (kind) {
    case 'leaf':
      return stepFor(leafKey(condition), program, () => leafStep(condition, program));
    case 'not': {
      const member = addCondition(condition.child, program);
      return stepFor([kind, member, name], program, () => ({ kind, name, member }));
    }
    default: {
      const members = condition.children.map((child) => addCondition(child, program));
      return stepFor([kind, members, name], program, () => ({ kind, name, members }));
    }
  }
}

function leafStep(leaf: Leaf, { asked, slotOf }: OpenProgram): Step {
  const { fact, operator, limit } = leaf;
  const slot = indexOf(fact, slotOf, () => asked.push(fact) - 1);
  return { kind: 'leaf', leaf, slot, compare: compileComparison(operator, limit.value) };
}

function stepFor(key: unknown, { steps, stepOf }: OpenProgram, make: () => Step): number {
  return indexOf(JSON.stringify(key), stepOf, () => steps.push(make()) - 1);
}

/** The index under which a key is known, or a new one. */
function indexOf(key: string, known: Map<string, number>, add: () => number): number {
  const index = known.get(key) ?? add();
  known.set(key, index);
  return index;
}

/** All that the explanation of a leaf shows besides what it finds. */
function leafKey({ fact, operator, limit, name }: Leaf): unknown {
  return ['leaf', fact, operator, limitKey(limit.value), limit.parameter, limit.unit, name];
}

/** NaN and infinity are broken limits without a form in JSON; the inner list keeps a number apart from a code. */
function limitKey(value: Limit['value']): unknown {
  return typeof value === 'number' ? [[String(value)]] : value;
}

/** The facts a program asks about, by slot; undefined where nobody made one. */
export type Slots = readonly (Fact | undefined)[];

export function slotsOf({ asked }: Program, facts: FactMap): Slots {
  return asked.map((id) => facts.get(id));
}

/** The truth of every step as a bit, every branch evaluated. */
export function truthsOf({ steps }: Program, slots: Slots): Uint8Array {
  const truths = new Uint8Array(steps.length);
  let index = 0;
  for (const step of steps) {
    truths[index] = truthOfStep(step, truths, slots);
    index += 1;
  }
  return truths;
}

function truthOfStep(step: Step, truths: Uint8Array, slots: Slots): number {
  switch (step.kind) {
    case 'leaf':
      return step.compare(slots[step.slot]);
    case 'not':
      return notOf(truths[step.member] ?? BROKEN);
    case 'all':
      return allOf(gather(step.members, truths));
    case 'any':
      return anyOf(gather(step.members, truths));
  }
}

function gather(members: readonly number[], truths: Uint8Array): number {
  let gathered = 0;
  for (const member of members) gathered |= truths[member] ?? BROKEN;
  return gathered;
}

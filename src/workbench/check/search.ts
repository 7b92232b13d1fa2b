import { compareFact } from '../../engine/compare.js';
import type { Truth } from '../../engine/truth.js';
import type { Fact } from '../../facts/fact.js';
import type { Condition } from '../../rulebook/types.js';
import type { Edges, Leaf } from './edge-values.js';

/** What a condition is wanted to come out as; `not-true` leaves false and unknown open. */
export type Wanted = 'true' | 'false' | 'not-true' | 'not-false';

export type Status = 'present' | 'not-present' | 'unknown' | 'known';

export type Goal =
  | { readonly condition: Condition; readonly wanted: Wanted }
  /** At least one of several lists of goals. */
  | { readonly oneOf: readonly (readonly Goal[])[] }
  | { readonly fact: string; readonly status: Status };

export type Search =
  /** The facts the goals ask about, each at an edge; all others may be anything. */
  | { readonly kind: 'state'; readonly facts: ReadonlyMap<string, Fact> }
  | { readonly kind: 'none' }
  /** Given up: nothing is known. */
  | { readonly kind: 'undecided' };

/** Most choices of one search; what takes more is left undecided and said to be. */
const MOST_CHOICES = 2_000;

/** Chooses between what is equally good: the order given, unless a search is to be varied. */
export type Order = <Item>(items: readonly Item[]) => readonly Item[];

/**
 * Looks for a state, each fact at one of its edges, in which all goals hold. Complete over those edges: `none` means
 * that no such state exists. What is forced is done first; then the alternative with the fewest ways left is tried, way
 * by way.
 */
export function searchState(goals: readonly Goal[], edges: Edges, order: Order = (items) => items): Search {
  let choices = 0;
  const solve = (wanted: readonly Goal[], alternatives: readonly Ways[], open: Edges): Edges | undefined => {
    const forced = force(wanted, alternatives, open);
    if (!forced) return undefined;
    const [narrowest] = [...forced.alternatives].sort((a, b) => a.length - b.length);
    if (!narrowest) return forced.open;
    const others = forced.alternatives.filter((one) => one !== narrowest);
    for (const way of order(narrowest)) {
      if (++choices > MOST_CHOICES) return undefined;
      const found = solve(way, others, forced.open);
      if (found) return found;
    }
    return undefined;
  };
  const found = solve(goals, [], edges);
  if (!found) return { kind: choices > MOST_CHOICES ? 'undecided' : 'none' };
  const facts = [...found].flatMap(([id, left]) => {
    const [first] = left === edges.get(id) ? [] : order(left);
    return first ? [[id, first] as const] : [];
  });
  return { kind: 'state', facts: new Map(facts) };
}

/** Whether all goals hold on these facts as they are. */
export function goalsHold(goals: readonly Goal[], facts: ReadonlyMap<string, Fact>): boolean {
  const single = new Map([...facts].map(([id, fact]) => [id, [fact]] as const));
  return goals.every((goal) => outlook(goal, single) === 'certain');
}

type Ways = readonly (readonly Goal[])[];

interface Forced {
  readonly open: Edges;
  readonly alternatives: readonly Ways[];
}

/** Does all that leaves no choice, until only alternatives with several ways are left; undefined at a contradiction. */
function force(wanted: readonly Goal[], alternatives: readonly Ways[], start: Edges): Forced | undefined {
  let left = [...alternatives];
  let open = start;
  const queue = [...wanted];
  for (;;) {
    for (let goal = queue.pop(); goal; goal = queue.pop()) {
      const part = partOf(goal);
      if (part.kind === 'together') queue.push(...part.goals);
      else if (part.kind === 'alternatives') left.push(part.ways);
      else {
        const before = open.get(part.fact) ?? [];
        const kept = before.filter(part.keep);
        if (kept.length === 0) return undefined;
        if (kept.length < before.length) open = new Map([...open, [part.fact, kept]]);
      }
    }
    const still: Ways[] = [];
    for (const ways of left) {
      const outlooks = ways.map((way) => outlookOfAll(way, open));
      if (outlooks.includes('certain')) continue;
      const possible = ways.filter((_way, index) => outlooks[index] === 'possible');
      const [only] = possible;
      if (!only) return undefined;
      if (possible.length === 1) queue.push(...only);
      else still.push(possible);
    }
    left = still;
    if (queue.length === 0) return { open, alternatives: left };
  }
}

type Part =
  | { readonly kind: 'fact'; readonly fact: string; readonly keep: (fact: Fact) => boolean }
  | { readonly kind: 'together'; readonly goals: readonly Goal[] }
  | { readonly kind: 'alternatives'; readonly ways: Ways };

function partOf(goal: Goal): Part {
  if ('oneOf' in goal) return { kind: 'alternatives', ways: goal.oneOf };
  if ('fact' in goal) return { kind: 'fact', fact: goal.fact, keep: (fact) => hasStatus(fact, goal.status) };
  const { condition, wanted } = goal;
  switch (condition.kind) {
    case 'leaf':
      return { kind: 'fact', fact: condition.fact, keep: (fact) => fits(truthOf(condition, fact), wanted) };
    case 'not':
      return { kind: 'together', goals: [{ condition: condition.child, wanted: OPPOSITE[wanted] }] };
    default: {
      const goals = condition.children.map((child): Goal => ({ condition: child, wanted }));
      const isPositive = wanted === 'true' || wanted === 'not-false';
      return isPositive === (condition.kind === 'all')
        ? { kind: 'together', goals }
        : { kind: 'alternatives', ways: goals.map((one) => [one]) };
    }
  }
}

/** Whether a goal holds whatever the facts turn out to be, may hold, or can't. */
type Outlook = 'certain' | 'possible' | 'impossible';

function outlook(goal: Goal, open: Edges): Outlook {
  const part = partOf(goal);
  switch (part.kind) {
    case 'fact': {
      const candidates = open.get(part.fact) ?? [];
      const kept = candidates.filter(part.keep).length;
      if (kept === 0) return 'impossible';
      return kept === candidates.length ? 'certain' : 'possible';
    }
    case 'together':
      return outlookOfAll(part.goals, open);
    case 'alternatives': {
      const outlooks = part.ways.map((way) => outlookOfAll(way, open));
      if (outlooks.includes('certain')) return 'certain';
      return outlooks.includes('possible') ? 'possible' : 'impossible';
    }
  }
}

function outlookOfAll(goals: readonly Goal[], open: Edges): Outlook {
  let all: Outlook = 'certain';
  for (const goal of goals) {
    const one = outlook(goal, open);
    if (one === 'impossible') return one;
    if (one === 'possible') all = one;
  }
  return all;
}

const OPPOSITE: Readonly<Record<Wanted, Wanted>> = {
  true: 'false',
  false: 'true',
  'not-true': 'not-false',
  'not-false': 'not-true',
};

function fits(truth: Truth, wanted: Wanted): boolean {
  switch (wanted) {
    case 'true':
    case 'false':
      return truth === wanted;
    case 'not-true':
      return truth !== 'true';
    case 'not-false':
      return truth !== 'false';
  }
}

/** Edges are compared with the same leaves again and again. */
const known = new WeakMap<Leaf, WeakMap<Fact, Truth>>();

function truthOf(leaf: Leaf, fact: Fact): Truth {
  const ofLeaf = known.get(leaf) ?? new WeakMap<Fact, Truth>();
  known.set(leaf, ofLeaf);
  const before = ofLeaf.get(fact);
  if (before) return before;
  const { truth } = compareFact(fact, leaf.operator, leaf.limit.value);
  ofLeaf.set(fact, truth);
  return truth;
}

function hasStatus({ state }: Fact, status: Status): boolean {
  switch (status) {
    case 'present':
      return state.status === 'present';
    case 'not-present':
      return state.status !== 'present';
    case 'unknown':
      return state.status === 'unknown';
    case 'known':
      return state.status !== 'unknown';
  }
}

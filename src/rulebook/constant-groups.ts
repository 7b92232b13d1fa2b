import type { Condition } from './types.js';

type Truth = 'true' | 'false' | 'unknown';
type Leaf = Extract<Condition, { kind: 'leaf' }>;

/**
 * Finds groups that are true, or false, for every value of a fact they ask about more than once, such as
 * "above 58 and below 30". Such a group is always a slip: the rule would fire on everybody or on nobody.
 *
 * Method: all other leaves are unknown; the fact takes every limit it is compared with, a value on either side of each
 * and one between neighbours (or every code named, and one that is not). A group that never changes is constant.
 */
export function constantGroups(
  condition: Condition,
): readonly { readonly fact: string; readonly always: 'true' | 'false' }[] {
  if (condition.kind === 'leaf') return [];
  const children = condition.kind === 'not' ? [condition.child] : condition.children;
  const inner = children.flatMap(constantGroups);
  if (inner.length > 0 || condition.kind === 'not') return inner;
  const leaves = leavesOf(condition);
  const repeated = [...new Set(leaves.map(({ fact }) => fact))].filter(
    (fact) => leaves.filter((leaf) => leaf.fact === fact).length > 1,
  );
  return repeated.flatMap((fact) => {
    const truths = new Set(
      samplesOf(leaves.filter((leaf) => leaf.fact === fact)).map((sample) =>
        truthOf(condition, fact, sample),
      ),
    );
    const [only, second] = [...truths];
    return second === undefined && only !== undefined && only !== 'unknown' ? [{ fact, always: only }] : [];
  });
}

function leavesOf(condition: Condition): readonly Leaf[] {
  if (condition.kind === 'leaf') return [condition];
  return (condition.kind === 'not' ? [condition.child] : condition.children).flatMap(leavesOf);
}

type Sample = number | string | boolean | readonly string[];

function samplesOf(leaves: readonly Leaf[]): readonly Sample[] {
  const limits = leaves.flatMap(({ limit }) => (typeof limit.value === 'number' ? [limit.value] : []));
  if (limits.length > 0) {
    const sorted = [...new Set(limits)].sort((a, b) => a - b);
    const between = sorted.map((limit, index) => (limit + (sorted[index + 1] ?? limit + 2)) / 2);
    return [(sorted[0] ?? 0) - 1, ...sorted, ...between, (sorted.at(-1) ?? 0) + 1];
  }
  const codes = leaves.flatMap(({ limit }) =>
    Array.isArray(limit.value) ? (limit.value as readonly string[]) : [],
  );
  const singles = leaves.flatMap(({ limit }) => (typeof limit.value === 'string' ? [limit.value] : []));
  // A fact may hold several codes at once (components retained), so all of them together is a value too.
  return [...codes, ...singles, [...codes, ...singles], 'another-code', true, false];
}

function truthOf(condition: Condition, fact: string, sample: Sample): Truth {
  switch (condition.kind) {
    case 'leaf':
      return condition.fact === fact ? (holds(condition, sample) ? 'true' : 'false') : 'unknown';
    case 'not':
      return negate(truthOf(condition.child, fact, sample));
    case 'all':
    case 'any': {
      const decisive: Truth = condition.kind === 'all' ? 'false' : 'true';
      const truths = condition.children.map((child) => truthOf(child, fact, sample));
      if (truths.includes(decisive)) return decisive;
      return truths.includes('unknown') ? 'unknown' : negate(decisive);
    }
  }
}

function negate(truth: Truth): Truth {
  return truth === 'unknown' ? 'unknown' : truth === 'true' ? 'false' : 'true';
}

function holds(leaf: Leaf, sample: Sample): boolean {
  const { value } = leaf.limit;
  if (typeof value === 'number' && typeof sample === 'number') {
    switch (leaf.operator) {
      case 'above':
      case 'clearly-above':
        return sample > value;
      case 'below':
      case 'clearly-below':
        return sample < value;
      case 'at-least':
        return sample >= value;
      default:
        return sample <= value;
    }
  }
  const held: readonly unknown[] = Array.isArray(sample) ? sample : [sample];
  const wanted: readonly unknown[] = Array.isArray(value) ? value : [value];
  return held.some((one) => wanted.includes(one));
}

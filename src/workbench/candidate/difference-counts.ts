import { byText } from '../../base/order.js';
import type { Difference } from '../../store/difference.js';
import { textColumns } from '../text-columns.js';

/** One kind of difference and how often it was met, over hips and constructs. */
export interface DifferenceCount {
  readonly candidate: string;
  readonly kind: Difference['kind'];
  /** `-` where it is of no single rule. */
  readonly rule: string;
  readonly was: string;
  readonly would: string;
  readonly count: number;
  readonly first: string;
  readonly last: string;
}

/** Counts what candidates would have done otherwise: the most frequent first, one candidate after the other. */
export async function countDifferences(
  differences: AsyncIterable<Difference>,
): Promise<readonly DifferenceCount[]> {
  const counts = new Map<string, DifferenceCount>();
  for await (const {
    candidateHash: candidate,
    kind,
    rule = '-',
    was = '-',
    would = '-',
    at,
  } of differences) {
    const key = JSON.stringify([candidate, kind, rule, was, would]);
    const known = counts.get(key) ?? { candidate, kind, rule, was, would, count: 0, first: at, last: at };
    const [first, last] = [known.first < at ? known.first : at, known.last > at ? known.last : at];
    counts.set(key, { ...known, count: known.count + 1, first, last });
  }
  const inOrder = byText(({ candidate, rule, kind, was, would }: DifferenceCount) =>
    [candidate, rule, kind, was, would].join(' '),
  );
  const byCandidate = byText(({ candidate }: DifferenceCount) => candidate);
  return [...counts.values()].sort((a, b) => byCandidate(a, b) || b.count - a.count || inOrder(a, b));
}

/** The same for a terminal. */
export function differencesText(counts: readonly DifferenceCount[]): string {
  if (counts.length === 0) return 'No candidate differed in anything that was kept.\n';
  const candidates = [...new Set(counts.map(({ candidate }) => candidate))];
  return candidates
    .map((candidate) => {
      const mine = counts.filter((one) => one.candidate === candidate);
      const rows = mine.map(({ count, kind, rule, was, would, first, last }) => [
        String(count),
        kind,
        rule,
        `${was} → ${would}`,
        `${first.slice(0, 10)} to ${last.slice(0, 10)}`,
      ]);
      return `Candidate ${candidate}:\n${textColumns(rows)}\n`;
    })
    .join('\n');
}

import type { ComparisonExplanation, Explanation } from '../../engine/explanation.js';

/** A comparison that keeps a condition from being what was wanted, and where it stands in the tree. */
export interface StandingLeaf {
  readonly path: string;
  readonly leaf: ComparisonExplanation;
  /** What the comparison would have to be. */
  readonly wanted: 'true' | 'false';
}

/**
 * The comparisons that stand between a tree and the truth wanted: for a group that needs all, those that are not so;
 * for one that needs any, every one, because each alone would do.
 */
export function standingLeaves(
  tree: Explanation,
  wanted: 'true' | 'false',
  path: string,
): readonly StandingLeaf[] {
  if (tree.truth === wanted) return [];
  switch (tree.kind) {
    case 'compare':
      return [{ path, leaf: tree, wanted }];
    case 'not':
      return standingLeaves(tree.child, wanted === 'true' ? 'false' : 'true', `${path}.not`);
    default:
      return tree.children.flatMap((child, index) =>
        standingLeaves(child, wanted, `${path}.${tree.kind}[${index}]`),
      );
  }
}

/** What a comparison asks: `cup-inclination above 58 deg`. */
export function askedText({ fact, operator, limit, unit, parameter }: ComparisonExplanation): string {
  if (operator === 'recorded') return `${fact} recorded`;
  const shown = Array.isArray(limit) ? limit.join(' or ') : String(limit);
  const named = parameter === undefined ? '' : ` (${parameter})`;
  return `${fact} ${operator} ${shown}${unitText(unit)}${named}`;
}

/** What it found: the value, with the measuring band where one was allowed for; or why that is not known. */
export function foundText({
  truth,
  found,
  unit,
  error,
  reason,
  needs,
  operator,
}: ComparisonExplanation): string {
  if (found === undefined)
    return reason === undefined
      ? operator === 'recorded'
        ? 'not recorded'
        : 'nothing found'
      : `not known (${reason}${needs && needs.length > 0 ? `: ${needs.join(', ')}` : ''})`;
  const band = error === undefined ? '' : ` ± ${error}`;
  const unclear = truth === 'unknown' ? `, cannot tell (${reason ?? 'unknown'})` : '';
  return `${valueText(found)}${band}${unitText(unit)}${unclear}`;
}

function valueText(found: NonNullable<ComparisonExplanation['found']>): string {
  if (typeof found !== 'object') return String(found);
  if ('low' in found || 'high' in found) return `${found.low ?? '…'} to ${found.high ?? '…'}`;
  return Array.isArray(found) ? found.join(', ') : 'a value';
}

function unitText(unit: string | undefined): string {
  return unit === undefined || unit === '1' ? '' : ` ${unit}`;
}

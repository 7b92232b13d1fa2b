import type { UnknownReason } from '../facts/fact.js';
import type { Limit, Operator } from '../rulebook/types.js';
import type { Truth } from './truth.js';

/** What a leaf found: a number or its bounds, codes, a flag, or that something is recorded. */
export type Found = number | boolean | readonly string[] | { readonly low?: number; readonly high?: number };

/**
 * The tree behind an outcome, in the rule's own shape: every branch evaluated, values found and limits used.
 * Card, FHIR resource, page and terminal text are readers of this tree; none of them computes anything clinical.
 */
export type Explanation =
  | {
      readonly kind: 'all' | 'any';
      readonly name?: string;
      readonly truth: Truth;
      readonly children: readonly Explanation[];
    }
  | { readonly kind: 'not'; readonly name?: string; readonly truth: Truth; readonly child: Explanation }
  | ComparisonExplanation;

export interface ComparisonExplanation {
  readonly kind: 'compare';
  readonly name?: string;
  readonly truth: Truth;
  readonly fact: string;
  readonly operator: Operator;
  readonly found?: Found;
  readonly unit?: string;
  readonly limit: Limit['value'];
  readonly parameter?: string;
  /** Width of the measuring band that the comparison allowed for. */
  readonly error?: number;
  readonly reason?: UnknownReason;
  readonly needs?: readonly string[];
}

/** The facts whose knowledge would settle an unknown: those of the unknown leaves met through unknown nodes only. */
export function needsOf(explanation: Explanation): readonly string[] {
  const needs = new Set<string>();
  collect(explanation, needs);
  return [...needs].sort();
}

function collect(explanation: Explanation, needs: Set<string>): void {
  if (explanation.truth !== 'unknown') return;
  switch (explanation.kind) {
    case 'compare':
      for (const need of explanation.needs ?? [explanation.fact]) needs.add(need);
      break;
    case 'not':
      collect(explanation.child, needs);
      break;
    default:
      for (const child of explanation.children) collect(child, needs);
  }
}

/** The node of this name, where there is one. */
export function nodeNamed(explanation: Explanation, name: string): Explanation | undefined {
  if (explanation.name === name) return explanation;
  const children =
    explanation.kind === 'not'
      ? [explanation.child]
      : explanation.kind === 'compare'
        ? []
        : explanation.children;
  for (const child of children) {
    const found = nodeNamed(child, name);
    if (found) return found;
  }
  return undefined;
}

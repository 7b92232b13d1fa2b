import { compareText } from '../base/order.js';
import type { Condition, Variant } from './types.js';

/** The id of a variant: the same replacements give the same id, in whatever order they were written. */
export function variantId({ computation, with: replaced }: Variant): string {
  const parts = Object.entries(replaced)
    .sort(([a], [b]) => compareText(a, b))
    .map(([input, fact]) => `${input}=${fact}`);
  return `${computation}[${parts.join(',')}]`;
}

/** The variants a condition asks about, by id. */
export function variantsIn(condition: Condition): ReadonlyMap<string, Variant> {
  if (condition.kind === 'leaf')
    return new Map(condition.variant ? [[condition.fact, condition.variant]] : []);
  const children = condition.kind === 'not' ? [condition.child] : condition.children;
  return new Map(children.flatMap((child) => [...variantsIn(child)]));
}

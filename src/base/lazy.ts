/**
 * A value worked out when first asked for, and then kept; what it was worked out from is let go. The work must be pure,
 * so that the moment does not matter.
 */
export function lazy<Value>(work: () => Value): () => Value {
  let held: { readonly work: () => Value } | { readonly value: Value } = { work };
  return () => {
    if ('work' in held) held = { value: held.work() };
    return held.value;
  };
}

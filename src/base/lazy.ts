/** A value worked out when first asked for, and then kept. The work must be pure, so that the moment does not matter. */
export function lazy<Value>(work: () => Value): () => Value {
  let done: { readonly value: Value } | undefined;
  return () => {
    done ??= { value: work() };
    return done.value;
  };
}

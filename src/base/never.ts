/** Closes a switch over a union: the compiler refuses the call when a member is unhandled. */
export function assertNever(value: never): never {
  throw new TypeError(`unhandled case: ${String(value)}`);
}

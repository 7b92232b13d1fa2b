import type { z } from 'zod';
import type { Issue } from '../base/result.js';
import { issue } from '../base/result.js';

/** What was expected and what kind of thing was found; never the value, which may be a patient's. */
export function toIssue(
  fault: z.core.$ZodIssue,
  root: unknown,
  base: readonly PropertyKey[],
): readonly Issue[] {
  const path = [...base, ...fault.path].map(String).join('.');
  const found = kindAt(root, fault.path);
  const expected =
    fault.code === 'invalid_type'
      ? fault.expected
      : fault.code === 'invalid_value'
        ? fault.values.map(String).join(' or ')
        : fault.message;
  const code = found === 'nothing' ? 'missing' : fault.code === 'invalid_type' ? 'wrong-type' : 'wrong-value';
  return [
    issue(
      code,
      path,
      `expected ${expected}, found ${found === 'nothing' || code === 'wrong-type' ? found : 'something else'}`,
    ),
  ];
}

function kindAt(root: unknown, path: readonly PropertyKey[]): string {
  let value = root;
  for (const step of path) {
    if (typeof value !== 'object' || value === null) return 'nothing';
    value = (value as Readonly<Record<PropertyKey, unknown>>)[step];
  }
  if (value === undefined) return 'nothing';
  if (value === null) return 'null';
  return Array.isArray(value) ? 'a list' : typeof value;
}

/** What a log may hold of a failed write: the database's code and where it happened. Its words could hold a value. */
export function failureOf(error: unknown): Readonly<Record<string, unknown>> {
  if (!(error instanceof Error)) return { failure: 'unknown' };
  const code = 'code' in error && typeof error.code === 'string' ? error.code : error.name;
  const stack = error.stack?.split('\n').filter((line) => /^\s+at /.test(line));
  return { failure: code, ...(stack && { stack: stack.join('\n') }) };
}

import type { Mutation } from './mutate.js';

/** A mutation run for a terminal: what was changed, what nobody noticed. */
export function mutationText({
  rulebook,
  cases,
  counts,
  survivors,
  stale,
  unread,
  failing,
}: Mutation): string {
  const open = survivors.filter(({ explained }) => !explained);
  const known = survivors.flatMap(({ explained }) => explained ?? []);
  if (failing.length > 0) return failingText(failing);
  const lines = [
    `Mutation of rulebook ${rulebook.version}, beside ${cases} calls of test patients, edge cases and single codes`,
    '',
    '      made   noticed  survived  kind of change',
    ...counts.map(
      ({ kind, made, noticed }) =>
        [made, noticed, made - noticed].map((count) => String(count).padStart(10)).join('') + `  ${kind}`,
    ),
    '',
    open.length === 0
      ? 'No unexplained survivor.'
      : `Unexplained survivors (${open.length}): no test patient notices when`,
    ...open.map(({ file, path, change }) => `  ${file}${path === '' ? '' : ` at ${path}`}: ${change}`),
    ...(open.length === 0 ? [] : ['', 'Add a test patient or edge case for each, or a reviewed reason.']),
    ...(known.length === 0 ? [] : ['', `Survivors with a reviewed reason (${known.length}):`]),
    ...known.map(({ id, reason, reviewer, date }) => `  ${id}\n      ${reason} (${reviewer}, ${date})`),
    ...(stale.length === 0
      ? []
      : ['', `Reviewed reasons without a survivor (${stale.length}), to be taken out:`]),
    ...stale.map(({ id }) => `  ${id}`),
    ...(unread.length === 0 ? [] : ['', `Value sets nothing reads: ${unread.join(', ')}`]),
  ];
  return `${lines.join('\n')}\n`;
}

function failingText(failing: readonly string[]): string {
  const lines = failing.map((name) => `  ${name}`);
  return `Nothing was mutated: the rules as they are do not keep ${failing.length} of the cases.\n${lines.join('\n')}\n`;
}

/** One file of the rulebook as read: where it stands, and what it says. */
export interface PackFile {
  readonly path: string;
  readonly content: unknown;
}

/** The rulebook as one plain value: every file with its path. This is what is hashed, packed and published. */
export interface Pack {
  readonly files: readonly PackFile[];
}

/** A fault in a rulebook file: where, what was expected, what was found. */
export interface RulebookIssue {
  readonly file: string;
  /** Path inside the file, such as `when.any[0].value`. */
  readonly path: string;
  readonly expected: string;
  readonly found: string;
}

export function formatIssue(issue: RulebookIssue): string {
  const where = issue.path === '' ? issue.file : `${issue.file} at ${issue.path}`;
  return `${where}: expected ${issue.expected}, found ${issue.found}`;
}

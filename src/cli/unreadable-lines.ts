import type { Io } from './io.js';

/** So many are told one by one; a file of another kind has as many as lines. */
const MOST_TOLD = 20;

/** Tells on standard error which members of a sample could not be read, the first of them one by one. */
export function unreadableLines(io: Io): {
  readonly tell: (where: string, why: string) => void;
  readonly end: () => void;
} {
  let count = 0;
  return {
    tell: (where, why) => {
      count += 1;
      if (count <= MOST_TOLD) io.err(`kotyle: ${where}: ${why}\n`);
    },
    end: () => {
      if (count > MOST_TOLD) io.err(`kotyle: and ${count - MOST_TOLD} more that could not be read\n`);
    },
  };
}

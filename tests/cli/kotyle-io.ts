import type { ExitCode, Io } from '../../src/cli/io.js';
import { runCommand } from '../../src/cli/program.js';
import type { AddVerb } from '../../src/cli/program.js';
import { VERBS } from '../../src/cli/verbs.js';

/** What one call of the command printed, and how it ended. */
export interface Called {
  readonly out: string;
  readonly err: string;
  readonly code: ExitCode | undefined;
}

/** Calls the command in this process, with a terminal that only remembers. */
export async function kotyle(args: readonly string[], verbs: readonly AddVerb[] = VERBS): Promise<Called> {
  let [out, err] = ['', ''];
  let code: ExitCode | undefined;
  const io: Io = {
    out: (text) => {
      out += text;
    },
    err: (text) => {
      err += text;
    },
    isTerminal: false,
    setExitCode: (given) => {
      code = given;
    },
  };
  await runCommand(args, io, verbs);
  return { out, err, code };
}

/** Where a verb prints, and how it tells the exit code: everything it knows of the terminal. */
export interface Io {
  /** Standard output: what was asked for, and with `--json` one document and nothing else. */
  readonly out: (text: string) => void;
  /** Standard error: progress and what went wrong. */
  readonly err: (text: string) => void;
  /** Whether a person watches standard error: only then a progress bar is drawn there. */
  readonly isTerminal: boolean;
  readonly setExitCode: (code: ExitCode) => void;
}

/** 0 clean; 1 something was found; 2 the call or its input is wrong; 130 stopped by Ctrl-C. */
export type ExitCode = 0 | 1 | 2 | 130;

/**
 * The call or its input is wrong: thrown by a verb, told on standard error without a stack, exit code 2. The message
 * says what was expected, what was found and where; `advice` what to try.
 */
export class CallError extends Error {
  override readonly name = 'CallError';

  constructor(
    message: string,
    readonly advice?: string,
    options?: ErrorOptions,
  ) {
    super(message, options);
  }
}

/** The real terminal. */
export function terminalIo(): Io {
  return {
    out: (text) => void process.stdout.write(text),
    err: (text) => void process.stderr.write(text),
    isTerminal: process.stderr.isTTY,
    setExitCode: (code) => {
      process.exitCode = code;
    },
  };
}

import { readFileSync } from 'node:fs';
import { Command, CommanderError } from 'commander';
import type { Io } from './io.js';
import { CallError } from './io.js';

/** A verb adds itself to the program. */
export type AddVerb = (program: Command, io: Io) => void;

/** The version of this package, from `src/cli` and from `dist/cli` alike. */
export function packageVersion(): string {
  const text = readFileSync(new URL('../../package.json', import.meta.url), 'utf8');
  return (JSON.parse(text) as { readonly version: string }).version;
}

/** Runs one call of the command: every way it can end becomes an exit code and, where something is wrong, a message. */
export async function runCommand(args: readonly string[], io: Io, verbs: readonly AddVerb[]): Promise<void> {
  const program = newProgram(io, verbs);
  if (args.length === 0) {
    io.err(program.helpInformation());
    io.setExitCode(2);
    return;
  }
  try {
    await program.parseAsync(args, { from: 'user' });
  } catch (error) {
    tell(error, io);
  }
}

function newProgram(io: Io, verbs: readonly AddVerb[]): Command {
  const program = new Command('kotyle')
    .description(
      'Cited, rule-based advice for a hip replacement that stays in its socket: the tools around it.',
    )
    .version(packageVersion())
    .exitOverride()
    .showSuggestionAfterError()
    .configureOutput({ writeOut: io.out, writeErr: io.err })
    .addHelpText(
      'after',
      '\nExit codes: 0 clean, 1 something was found, 2 the call or its input is wrong, 130 stopped by Ctrl-C.\nkotyle <verb> --help tells more, with examples.',
    );
  for (const add of verbs) add(program, io);
  for (const verb of program.commands) verb.copyInheritedSettings(program).showHelpAfterError(helpHint(verb));
  program.showHelpAfterError(
    `verbs: ${program.commands.map((verb) => verb.name()).join(', ')}; kotyle --help tells more`,
  );
  return program;
}

function helpHint(verb: Command): string {
  return `kotyle ${verb.name()} --help shows how it is called`;
}

function tell(error: unknown, io: Io): void {
  if (error instanceof CommanderError) {
    // Help and version end this way too, and are no fault.
    io.setExitCode(error.exitCode === 0 ? 0 : 2);
    return;
  }
  io.setExitCode(2);
  if (error instanceof CallError) {
    io.err(`kotyle: ${error.message}\n${error.advice === undefined ? '' : `try: ${error.advice}\n`}`);
    return;
  }
  const stack = error instanceof Error ? (error.stack ?? error.message) : String(error);
  io.err(`kotyle: this should not happen, and is a mistake of kotyle's own:\n${stack}\n`);
}

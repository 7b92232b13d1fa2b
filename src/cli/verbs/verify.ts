import type { Command } from 'commander';
import type { Head } from '../../store/chain-entry.js';
import type { Verification } from '../../store/store.js';
import { readTextFile } from '../input.js';
import { CallError } from '../io.js';
import type { Io } from '../io.js';
import { settings, withStore } from '../kept-store.js';

interface VerifyOptions {
  readonly heads?: string;
  readonly json?: true;
}

/** Adds `verify`: whether anything that was kept has been changed, taken away or put in. */
export function verifyCommand(program: Command, io: Io): void {
  program
    .command('verify')
    .description('follow the chains over everything kept, and tell what no longer fits')
    .option('--heads <file>', 'ends of the chains as exported before: shows when an end was cut off')
    .option('--json', 'one JSON document on standard output')
    .addHelpText(
      'after',
      '\nThe store is that of the service, KOTYLE_STORE, which may go on meanwhile. What was erased or is past its time is no break.\nEnds with 1 when something does not fit.\n\nExamples:\n  kotyle verify\n  kotyle verify --heads heads.json',
    )
    .action(async (options: VerifyOptions) => {
      const heads = options.heads === undefined ? [] : readHeads(options.heads);
      const verification = await withStore(settings(), io, (store) => store.verify(heads));
      if (options.json) io.out(`${JSON.stringify(verification, undefined, 2)}\n`);
      else io.out(verificationText(verification, heads.length));
      io.setExitCode(verification.breaks.length > 0 ? 1 : 0);
    });
}

function verificationText({ entries, writers, breaks, more }: Verification, heads: number): string {
  const read = `${entries} entries of ${writers} ${writers === 1 ? 'writer' : 'writers'}, ${heads} heads compared`;
  if (breaks.length === 0) return `${read}: everything fits\n`;
  const lines = breaks.map(({ writer, seq, kind, of, why }) => {
    const place = writer === undefined ? '' : `writer ${writer}, entry ${seq ?? 0}, `;
    return `${place}${kind} ${of}: ${why}`;
  });
  return `${[...lines, ...(more ? ['and others'] : []), `${read}: something does not fit`].join('\n')}\n`;
}

/** Heads as `kotyle export --heads` wrote them. */
function readHeads(path: string): readonly Head[] {
  const expected = `--heads: expected a file of kotyle export --heads, found another at ${path}`;
  let value: unknown;
  try {
    value = JSON.parse(readTextFile(path, 'a file of kotyle export --heads'));
  } catch (error) {
    if (error instanceof SyntaxError) throw new CallError(expected);
    throw error;
  }
  if (typeof value !== 'object' || value === null || !('kotyleHeads' in value) || !('heads' in value))
    throw new CallError(expected);
  const heads: unknown = value.heads;
  if (value.kotyleHeads !== 1 || !Array.isArray(heads) || !heads.every(isHead)) throw new CallError(expected);
  return heads;
}

function isHead(value: unknown): value is Head {
  if (typeof value !== 'object' || value === null) return false;
  const { writer, seq, hash } = value as Readonly<Record<string, unknown>>;
  return typeof writer === 'string' && Number.isSafeInteger(seq) && typeof hash === 'string';
}

import { readPack } from '../../rulebook-files/read-pack.js';
import { packText, readPackText } from '../../rulebook-files/pack-file.js';
import { buildRulebook, packHash } from '../../rulebook/build.js';
import { formatIssue } from '../../rulebook/pack.js';
import type { Pack } from '../../rulebook/pack.js';
import { COMPUTATION_IDS } from '../../advice/index.js';
import type { Command } from 'commander';
import { readTextFile } from '../input.js';
import { CallError } from '../io.js';
import type { Io } from '../io.js';
import { rulesFolder, withRules } from '../knowledge.js';
import { writeWhole } from '../output.js';

interface PackOptions {
  readonly rules?: string;
  readonly out?: string;
  readonly check?: string;
  readonly json?: true;
}

/** Adds `pack`: the rulebook as one file under its hash, and the check of such a file. */
export function packCommand(program: Command, io: Io): void {
  withRules(program.command('pack'))
    .description('put the rulebook into one file under the hash of its content, or verify such a file')
    .option('--out <file>', 'the file to write; without it only the hash is told')
    .option('--check <file>', 'verify this packed file instead, and compare it with the rules')
    .option('--json', 'one JSON document on standard output')
    .addHelpText(
      'after',
      '\nThe same rules give the same bytes. --check ends with 1 when a sound file holds other rules than the folder.\n\nExamples:\n  kotyle pack --out kotyle-2026.11.0.json\n  kotyle pack --check kotyle-2026.11.0.json',
    )
    .action((options: PackOptions) => {
      if (options.check !== undefined) checkPacked(options.check, options, io);
      else writePacked(options, io);
    });
}

function writePacked(options: PackOptions, io: Io): void {
  const folder = rulesFolder(options);
  const pack = readPack(folder);
  const { version, status } = aboutOf(pack, folder);
  const hash = packHash(pack);
  if (options.out !== undefined) writeWhole(options.out, packText(pack));
  tell({ version, status, hash, files: pack.files.length, out: options.out }, options, io);
  io.setExitCode(0);
}

function checkPacked(path: string, options: PackOptions, io: Io): void {
  if (options.out !== undefined) throw new CallError('--check and --out: expected one of them, found both');
  const read = readPackText(readTextFile(path, 'a packed rulebook'));
  if (!read.ok) throw new CallError(`${path}: expected ${read.expected}, found ${read.found}`);
  const { version, status } = aboutOf(read.pack, path);
  const folder = rulesFolder(options);
  const rules = packHash(readPack(folder));
  const same = rules === read.hash;
  tell({ version, status, hash: read.hash, files: read.pack.files.length, rules, same }, options, io);
  if (!same) io.err(`kotyle: ${path} is sound and holds other rules than ${folder}, which are ${rules}\n`);
  io.setExitCode(same ? 0 : 1);
}

/** Version and status of a pack that makes a rulebook; CallError with every fault when it makes none. */
function aboutOf(pack: Pack, where: string): { readonly version: string; readonly status: string } {
  const built = buildRulebook(pack, COMPUTATION_IDS);
  if (!built.ok)
    throw new CallError(
      `expected a rulebook without faults, found in ${where}:\n${built.issues.map(formatIssue).join('\n')}`,
      'kotyle check',
    );
  const { version, status, experimental } = built.rulebook.about;
  return { version, status: experimental ? `${status}, experimental` : status };
}

interface Told {
  readonly version: string;
  readonly status: string;
  readonly hash: string;
  readonly files: number;
  readonly out?: string | undefined;
  readonly rules?: string;
  readonly same?: boolean;
}

function tell(told: Told, { json }: PackOptions, io: Io): void {
  if (json) {
    io.out(`${JSON.stringify(told, undefined, 2)}\n`);
    return;
  }
  const { version, status, hash, files, out, same } = told;
  const said = same === undefined ? '' : same ? ', sound, the same as the rules' : ', sound';
  io.out(
    `rulebook ${version} (${status}), ${files} files${said}${out === undefined ? '' : `, written to ${out}`}\n${hash}\n`,
  );
}

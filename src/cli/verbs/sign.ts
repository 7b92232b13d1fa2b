import type { Command } from 'commander';
import { COMPUTATION_IDS } from '../../advice/index.js';
import { isDay } from '../../base/dates.js';
import { loadPack } from '../../rulebook-files/load-pack.js';
import { loadSite } from '../../rulebook-files/read-site.js';
import type { Installed } from '../../rulebook/governance-report.js';
import { approvalsFor, withApprovals } from '../../workbench/sign/add-approvals.js';
import { signingOf, signingText } from '../../workbench/sign/signing-text.js';
import { readTextFile } from '../input.js';
import { CallError } from '../io.js';
import type { Io } from '../io.js';
import { loadKnowledge, withKnowledge } from '../knowledge.js';
import { writeWhole } from '../output.js';

interface SignOptions {
  readonly rules?: string;
  readonly pack?: string;
  readonly site?: string;
  readonly by: string;
  readonly role: string;
  readonly date: string;
  readonly dryRun?: true;
  readonly json?: true;
}

/** Adds `sign`: shows what an installation will say, and writes who approves it into its site file. */
export function signCommand(program: Command, io: Io): void {
  withKnowledge(program.command('sign'))
    .description(
      'approve an installation by the hash of its content: only what is approved speaks in production',
    )
    .option('--pack <file>', 'a released rulebook in place of --rules')
    .requiredOption('--by <name>', 'who signs')
    .requiredOption('--role <role>', 'as what, such as "clinical lead"')
    .requiredOption('--date <day>', 'when, such as 2026-11-02')
    .option('--dry-run', 'tell what would be signed and write nothing')
    .option('--json', 'one JSON document on standard output')
    .addHelpText(
      'after',
      '\nThe approval is added to the site file, whose other bytes stay as they are. Any later edit of the site file, of a map or of the rulebook voids it: everything is then silent until somebody signs again.\n\nExample:\n  kotyle sign --site ./site.json --by "N. N." --role "clinical lead" --date 2026-11-02 --dry-run',
    )
    .action((options: SignOptions) => {
      sign(options, io);
    });
}

function sign(options: SignOptions, io: Io): void {
  const path = options.site;
  if (path === undefined) throw new CallError('--site: expected a site file, found none');
  const installed = installedBy(options, path);
  const signatory = signatoryOf(options);
  const added = approvalsFor(installed, signatory);
  const signing = signingOf(installed, added, `${signatory.date}T12:00:00.000Z`);
  // Written first: what is told of a signature that could not be kept would be believed.
  if (!options.dryRun && added.length > 0) writeWhole(path, withApprovals(readTextFile(path), added));
  if (options.json) io.out(`${JSON.stringify({ ...signing, written: !options.dryRun }, undefined, 2)}\n`);
  else io.out(`${signingText(signing, installed)}${options.dryRun ? '\nnothing was written\n' : ''}`);
  io.setExitCode(0);
}

function installedBy(options: SignOptions, path: string): Required<Installed> {
  const { pack, rules } = options;
  if (pack === undefined) {
    const { rulebook, site } = loadKnowledge(options);
    if (!site) throw new CallError('--site: expected a site file, found none');
    return { rulebook, site };
  }
  if (rules !== undefined) throw new CallError('--pack and --rules: expected one of them, found both');
  try {
    const rulebook = loadPack(pack, COMPUTATION_IDS);
    return { rulebook, site: loadSite(path, rulebook) };
  } catch (error) {
    if (!(error instanceof Error)) throw error;
    throw new CallError(error.message, 'kotyle check --site tells each fault', { cause: error });
  }
}

function signatoryOf({ by, role, date }: SignOptions): Pick<SignOptions, 'by' | 'role' | 'date'> {
  for (const [name, text] of Object.entries({ by, role }))
    if (text.trim() === '') throw new CallError(`--${name}: expected a text, found none`);
  if (!isDay(date)) throw new CallError(`--date: expected a day such as 2026-11-02, found ${date}`);
  if (date > new Date().toISOString().slice(0, 10))
    throw new CallError(`--date: expected today or an earlier day, found ${date}`);
  return { by, role, date };
}

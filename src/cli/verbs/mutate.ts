import { Option } from 'commander';
import type { Command } from 'commander';
import { readPack } from '../../rulebook-files/read-pack.js';
import { ENGINE_VERSION } from '../../server/serve.js';
import { readChecked } from '../../workbench/checked-file.js';
import { MUTANT_KINDS } from '../../workbench/mutate/mutant.js';
import type { MutantKind } from '../../workbench/mutate/mutant.js';
import { mutate } from '../../workbench/mutate/mutate.js';
import type { MutateStep, Mutation } from '../../workbench/mutate/mutate.js';
import { mutationText } from '../../workbench/mutate/mutation-text.js';
import { survivorsSchema } from '../../workbench/mutate/survivors.js';
import type { ReviewedSurvivor } from '../../workbench/mutate/survivors.js';
import { ruleSources } from '../../workbench/rule-sources.js';
import { SHIPPED } from '../../workbench/shipped-fixtures.js';
import { readCases } from '../../workbench/trial/read-cases.js';
import { CallError } from '../io.js';
import type { Io } from '../io.js';
import { loadKnowledge, rulesFolder, withKnowledge } from '../knowledge.js';
import type { KnowledgeOptions } from '../knowledge.js';
import { progressOf } from '../progress.js';
import type { Progress } from '../progress.js';

interface MutateOptions extends KnowledgeOptions {
  readonly edges?: string;
  readonly codes: string;
  readonly meanings: string;
  readonly survivors?: string;
  readonly only?: readonly MutantKind[];
  readonly rule?: string;
  readonly json?: true;
}

/** Adds `mutate`: changes the rules in one small way after another and lists what no test patient notices. */
export function mutateCommand(program: Command, io: Io): void {
  withKnowledge(program.command('mutate'))
    .description('change the rules in one small way after another; list what no test patient notices')
    .argument('[folder]', 'test patients (default: those shipped, with their edge cases)')
    .option('--edges <folder>', 'edge cases made of the test patients')
    .option('--codes <file>', 'published codes by concept, for thinned code lists', SHIPPED.codes)
    .option('--meanings <file>', 'what each published concept means', SHIPPED.codeMeanings)
    .option('--survivors <file>', 'reviewed reasons why a change need not be noticed')
    .addOption(new Option('--only <kinds...>', 'only these kinds of change').choices(MUTANT_KINDS))
    .option('--rule <id>', 'only changes to this rule or named condition')
    .option('--json', 'one JSON document on standard output')
    .addHelpText(
      'after',
      '\nExamples:\n  kotyle mutate --rule spine-phenotype\n  kotyle mutate --only threshold operator --json\n  kotyle mutate ./our-patients --site ./our-site.json\n\nExit code 1: a change that no test patient notices and no review explains, a reason whose change is noticed now, or test patients that fail.',
    )
    .action(async (folder: string | undefined, options: MutateOptions) => {
      const mutation = await run(folder, options, io);
      io.out(options.json ? `${JSON.stringify(mutation, null, 2)}\n` : mutationText(mutation));
      io.setExitCode(isClean(mutation) ? 0 : 1);
    });
}

function isClean({ survivors, stale, failing }: Mutation): boolean {
  return survivors.every(({ explained }) => explained) && stale.length + failing.length === 0;
}

async function run(folder: string | undefined, options: MutateOptions, io: Io): Promise<Mutation> {
  const { rulebook, site } = loadKnowledge(options);
  const sources = ruleSources(readPack(rulesFolder(options)));
  const { rule, only, codes, meanings } = options;
  if (rule !== undefined && !sources.named.has(rule) && !rulebook.rules.some(({ id }) => id === rule))
    throw new CallError(`--rule: expected the id of a rule or named condition, found ${rule}`);
  const edges = options.edges ?? (folder === undefined ? SHIPPED.edges : undefined);
  const survivors = options.survivors ?? (folder === undefined ? SHIPPED.survivors : undefined);
  const wantsCodes = rule === undefined && (only?.includes('code') ?? true);
  const cases = readCases(
    {
      patients: folder ?? SHIPPED.patients,
      ...(edges !== undefined && { edges }),
      ...(wantsCodes && { codes: { published: codes, meanings } }),
    },
    rulebook,
  );
  if (!cases.ok)
    throw new CallError(cases.faults.join('\n'), 'kotyle trial --help tells the form of test patients');
  const telling = new Telling(io);
  try {
    return await mutate({
      rulebook,
      sources,
      ...(site && { site }),
      engine: ENGINE_VERSION,
      cases: cases.value,
      reviewed: survivors === undefined ? [] : reviewedIn(survivors),
      ...(only && { kinds: only }),
      ...(rule !== undefined && { only: rule }),
      progress: (step) => {
        telling.tell(step);
      },
    });
  } finally {
    telling.end();
  }
}

function reviewedIn(file: string): readonly ReviewedSurvivor[] {
  const read = readChecked(file, survivorsSchema);
  if (!read.ok) throw new CallError(read.faults.join('\n'));
  return read.value.survivors;
}

const DOING: Readonly<Record<MutateStep['doing'], string>> = {
  reading: 'calls read',
  mutating: 'changes tried',
};

/** One bar after another, each for one kind of work. */
class Telling {
  #bar: Progress | undefined;
  #doing: MutateStep['doing'] | undefined;

  constructor(private readonly io: Io) {}

  tell({ doing, done, all }: MutateStep): void {
    if (this.#doing !== doing) {
      this.end();
      this.#bar = progressOf(DOING[doing], all, this.io);
      this.#doing = doing;
    }
    this.#bar?.tell(done);
  }

  end(): void {
    this.#bar?.end();
    this.#bar = undefined;
  }
}

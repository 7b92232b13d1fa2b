import { setImmediate } from 'node:timers/promises';
import { SingleBar } from 'cli-progress';
import { InvalidArgumentError, Option } from 'commander';
import type { Command } from 'commander';
import { readFhirDate } from '../../base/dates.js';
import { PROFILES, synthesizeHips } from '../../workbench/synthesize/synthesize-hips.js';
import type { Profile, SyntheticPatient } from '../../workbench/synthesize/synthesize-hips.js';
import { BOOKING_DAY } from '../../workbench/synthesize/synthesize-truths.js';
import { BulkFolder } from '../bulk-folder.js';
import { CallError } from '../io.js';
import type { Io } from '../io.js';
import { LineFile } from '../line-file.js';

const FORMATS = ['bundles', 'ndjson'] as const;

interface SynthesizeOptions {
  readonly count: number;
  readonly seed: number;
  readonly from: number;
  readonly on: string;
  readonly profile: Profile;
  readonly format: (typeof FORMATS)[number];
  readonly out?: string;
  readonly json?: true;
}

/** Adds `synthesize`: writes invented hips, the same for the same seed. */
export function synthesizeCommand(program: Command, io: Io): void {
  program
    .command('synthesize')
    .description(
      'write invented hips drawn from cited prevalences and correlations; the same seed gives the same bytes',
    )
    .option('--count <number>', 'how many', wholeNumber(1), 1000)
    .option('--seed <number>', 'seed of all draws', wholeNumber(0), 1)
    .option('--from <number>', 'number of the first, so that a run may be cut into parts', wholeNumber(0), 0)
    .addOption(
      new Option('--profile <name>', 'what the records hold of each hip')
        .choices(PROFILES)
        .default('record-like'),
    )
    .addOption(
      new Option('--format <form>', 'one Bundle a line, or FHIR Bulk NDJSON')
        .choices(FORMATS)
        .default('bundles'),
    )
    .option('--out <path>', 'file (bundles) or new folder (ndjson); bundles are printed without it')
    .option('--on <day>', 'the day of booking', aDay, BOOKING_DAY)
    .option('--json', 'say what was written as one JSON document; needs --out')
    .addHelpText('after', HELP)
    .action(async (options: SynthesizeOptions) => {
      const written = await write(options, io);
      tell(written, options, io);
    });
}

const HELP = `
Profiles: record-like (what a record holds at booking; at most one hip in twenty has any measure) and fully-planned
(everything measured and planned). The same number of the same seed is the same hip in both. Nobody's data.
fixtures/synthetic/population.json holds every prevalence and correlation with its source.

Examples:
  kotyle synthesize --count 20 --out hips.ndjson
  kotyle synthesize --count 1000000 --seed 7 --format ndjson --out bulk/
  kotyle synthesize --count 5 --profile fully-planned | head -1 | kotyle evaluate -`;

function wholeNumber(least: number): (text: string) => number {
  return (text) => {
    const value = Number(text);
    if (!/^\d+$/.test(text) || !Number.isSafeInteger(value) || value < least)
      throw new InvalidArgumentError(`expected a whole number from ${least}, found ${text}`);
    return value;
  };
}

function aDay(text: string): string {
  const isDay = /^\d{4}-\d\d-\d\d$/.test(text) && readFhirDate(text) !== undefined;
  if (!isDay) throw new InvalidArgumentError(`expected a day such as ${BOOKING_DAY}, found ${text}`);
  return text;
}

/** Where patients go: a stream of lines, a file, or a folder of files. */
interface Target {
  readonly add: (patient: SyntheticPatient) => void;
  readonly finish: () => void;
  readonly discard: () => void;
  readonly files: () => readonly { readonly path: string; readonly lines: number }[];
}

function targetOf({ format, out, json }: SynthesizeOptions, io: Io): Target {
  if (format === 'ndjson') {
    if (out === undefined)
      throw new CallError('--format ndjson: expected --out with a folder, found none', '--out bulk/');
    const folder = new BulkFolder(out);
    return {
      add: ({ bundle }) => folder.add(bundle),
      finish: () => folder.finish(),
      discard: () => folder.discard(),
      files: () => folder.files,
    };
  }
  if (out === undefined) {
    if (json)
      throw new CallError(
        '--json: expected --out beside it, found none; Bundles and the document would share standard output',
        '--out hips.ndjson --json',
      );
    return printedLines(io);
  }
  const file = new LineFile(out);
  return {
    add: ({ bundle }) => file.add(JSON.stringify(bundle)),
    finish: () => {
      file.close();
      file.name();
    },
    discard: () => file.discard(),
    files: () => [file],
  };
}

function printedLines(io: Io): Target {
  return {
    add: ({ bundle }) => io.out(`${JSON.stringify(bundle)}\n`),
    finish: () => undefined,
    discard: () => undefined,
    files: () => [],
  };
}

/** Patients between two looks at the world: Ctrl-C, the end of a pipe, the time. */
const PATIENTS_AT_A_TIME = 100;

async function write(options: SynthesizeOptions, io: Io): Promise<ReturnType<Target['files']>> {
  if (options.from + options.count > Number.MAX_SAFE_INTEGER)
    throw new CallError(`--from and --count: expected numbers up to ${Number.MAX_SAFE_INTEGER}, found more`);
  const target = targetOf(options, io);
  const progress = progressOf(options.count, io);
  try {
    let done = 0;
    for (const patient of synthesizeHips(options)) {
      target.add(patient);
      done += 1;
      if (done % PATIENTS_AT_A_TIME !== 0) continue;
      progress.tell(done);
      await setImmediate();
    }
    target.finish();
    return target.files();
  } catch (error) {
    target.discard();
    throw error;
  } finally {
    progress.end();
  }
}

interface Progress {
  readonly tell: (done: number) => void;
  readonly end: () => void;
}

const SECONDS_BETWEEN_LINES = 5;

/** A bar where a person watches, otherwise a line every few seconds. */
function progressOf(count: number, io: Io): Progress {
  if (io.isTerminal) {
    const bar = new SingleBar({
      format: '{bar} {value} of {total} hips, {eta_formatted} left',
      stream: process.stderr,
      clearOnComplete: true,
    });
    bar.start(count, 0);
    return { tell: (done) => bar.update(done), end: () => bar.stop() };
  }
  let told = Date.now();
  return {
    tell: (done) => {
      if (Date.now() - told < SECONDS_BETWEEN_LINES * 1000) return;
      told = Date.now();
      io.err(`${done} of ${count} hips\n`);
    },
    end: () => undefined,
  };
}

function tell(files: ReturnType<Target['files']>, options: SynthesizeOptions, io: Io): void {
  const { seed, from, count, on, profile, format, out, json } = options;
  if (json) {
    const written = files.map(({ path, lines }) => ({ path, lines }));
    const document = { seed, from, count, on, profile, format, files: written };
    io.out(`${JSON.stringify(document, undefined, 2)}\n`);
    return;
  }
  if (out !== undefined) io.err(`wrote ${count} hips (${profile}, seed ${seed}) to ${out}\n`);
}

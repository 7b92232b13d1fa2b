import { existsSync, readFileSync } from 'node:fs';
import { cpus } from 'node:os';
import { join } from 'node:path';
import type { Command } from 'commander';
import { newAdvisor } from '../../advice/index.js';
import type { EvaluationSetting } from '../../advice/hook-inputs.js';
import { hazardLogSchema } from '../../rulebook/hazard-schema.js';
import type { Hazard } from '../../rulebook/hazard-schema.js';
import { ENGINE_VERSION } from '../../server/serve.js';
import { HAZARD_FILE } from '../../workbench/check/check-hazards.js';
import { readinessPage } from '../../workbench/readiness/readiness-page.js';
import { readinessOf } from '../../workbench/readiness/readiness.js';
import type { Readiness } from '../../workbench/readiness/readiness-types.js';
import { instantOf } from '../instant.js';
import { CallError } from '../io.js';
import type { Io } from '../io.js';
import { loadKnowledge, rulesFolder, withReleases } from '../knowledge.js';
import type { KnowledgeOptions } from '../knowledge.js';
import { writeWhole } from '../output.js';
import { progressOf } from '../progress.js';
import { sampleSource } from '../sample.js';
import { unreadableLines } from '../unreadable-lines.js';

interface ReadinessOptions extends KnowledgeOptions {
  readonly sample: string;
  readonly out?: string;
  readonly json?: true;
  readonly now?: string;
  readonly latency: boolean;
}

/** Adds `readiness`: what a committee reads before it signs an installation. */
export function readinessCommand(program: Command, io: Io): void {
  const verb = program
    .command('readiness')
    .description('one report a committee can sign, from a sample of an installation’s calls or patients')
    .requiredOption(
      '--sample <source>',
      'a folder or file of recorded hook calls or Bundles, one a file or one a line (.ndjson), or synthetic:<profile>:<count>:<seed>',
    )
    .option('--out <file>', 'write the report (HTML) there instead of printing it')
    .option('--json', 'print the figures as one JSON document')
    .option('--now <instant>', 'the time to evaluate at, ISO 8601 (default: now)')
    .option('--no-latency', 'leave out the time advice takes, so that the same sample gives the same bytes');
  withReleases(verb)
    .addHelpText(
      'after',
      `
Nothing of a patient is in the report: counts, rules, codes and months. What can not be read is told on standard
error with its line, and counted in the report; the exit code is then 1.

Examples:
  kotyle readiness --sample calls.ndjson --site site.json --out readiness.html
  kotyle readiness --sample bundles/ --site site.json --rulebook 2026.11.1.json --out readiness.html`,
    )
    .action(async (options: ReadinessOptions) => {
      await run(options, io);
    });
}

async function run(options: ReadinessOptions, io: Io): Promise<void> {
  const now = instantOf(options.now);
  const { rulebook, site } = loadKnowledge(options);
  const setting: EvaluationSetting = { rulebook, ...(site && { site }), now, engine: ENGINE_VERSION };
  const readiness = await readSample(options, setting, io);
  const { members, unreadable } = readiness.sample;
  const unread = unreadable.reduce((sum, { count }) => sum + count, 0);
  if (members === unread)
    throw new CallError(
      `--sample: expected hook calls or Bundles in ${options.sample}, found none that can be read`,
    );
  if (options.out !== undefined) {
    writeWhole(options.out, readinessPage(readiness, rulebook.about.deferral));
    io.err(`wrote ${options.out}\n`);
  }
  if (options.json) io.out(`${JSON.stringify(readiness, undefined, 2)}\n`);
  else if (options.out === undefined) io.out(readinessPage(readiness, rulebook.about.deferral));
  io.setExitCode(unread > 0 ? 1 : 0);
}

async function readSample(options: ReadinessOptions, setting: EvaluationSetting, io: Io): Promise<Readiness> {
  const { over, total, members } = sampleSource(options.sample);
  const progress = progressOf('members of the sample', total, io);
  const unreadable = unreadableLines(io);
  try {
    return await readinessOf(members(setting), {
      setting,
      advisor: newAdvisor(setting.rulebook),
      over,
      hazards: hazardsBeside(options),
      ...(options.latency && { timed: { elapsedMs: () => performance.now(), machine: machineText() } }),
      onMember: progress.tell,
      onUnreadable: unreadable.tell,
    });
  } finally {
    progress.end();
    unreadable.end();
  }
}

/** The hazard log is kept beside the rules, not in them; none where there is none. */
function hazardsBeside(options: KnowledgeOptions): readonly Hazard[] {
  const path = join(rulesFolder(options), HAZARD_FILE);
  if (!existsSync(path)) return [];
  const read = hazardLogSchema.safeParse(JSON.parse(readFileSync(path, 'utf8')));
  if (!read.success) throw new CallError(`${path}: expected a hazard log`, 'kotyle check tells each fault');
  return read.data.hazards;
}

function machineText(): string {
  const processors = cpus();
  return `${processors.length} × ${processors[0]?.model.trim() ?? 'processor'}, node ${process.version}`;
}

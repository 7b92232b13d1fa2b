import type { Command } from 'commander';
import { advise, newAdvisor } from '../../advice/index.js';
import type { Advice } from '../../advice/index.js';
import type { EvaluationSetting } from '../../advice/hook-inputs.js';
import type { UnmappedCoding } from '../../facts/unmapped.js';
import { ENGINE_VERSION } from '../../server/serve.js';
import { UnmappedCounts } from '../../workbench/readiness/unmapped-counts.js';
import { unmappedMap } from '../../workbench/unmapped/unmapped-map.js';
import { unmappedReport } from '../../workbench/unmapped/unmapped-report.js';
import { unmappedText } from '../../workbench/unmapped/unmapped-text.js';
import { instantOf } from '../instant.js';
import { CallError } from '../io.js';
import type { Io } from '../io.js';
import { keptStore } from '../kept-store.js';
import { loadKnowledge, withReleases } from '../knowledge.js';
import type { KnowledgeOptions } from '../knowledge.js';
import { progressOf } from '../progress.js';
import { sampleSource } from '../sample.js';
import { unreadableLines } from '../unreadable-lines.js';

interface UnmappedOptions extends KnowledgeOptions {
  readonly store?: string;
  readonly sample?: string;
  readonly now?: string;
  readonly asMap?: true;
  readonly json?: true;
}

/** Adds `unmapped`: local codes that nothing understood, and the lines a map is missing. */
export function unmappedCommand(program: Command, io: Io): void {
  const verb = program
    .command('unmapped')
    .description('list codes that nothing understood, and which lines a site’s maps are missing')
    .option('--store <file|url>', 'count what a service has kept: a SQLite file or a PostgreSQL URL')
    .option('--sample <source>', 'count over a sample instead, as kotyle readiness takes it')
    .option('--now <instant>', 'the time to evaluate a sample at, ISO 8601 (default: now)')
    .option('--as-map', 'print a ConceptMap with a line for each missing code, its target left open')
    .option('--json', 'one JSON document on standard output');
  withReleases(verb)
    .addHelpText(
      'after',
      `
With --site, codes that its maps have by now are told apart. Codes are listed and never texts. The exit code is 1
when a local code has no line in a map.

Examples:
  kotyle unmapped --store kotyle.sqlite --site site.json
  kotyle unmapped --sample calls.ndjson --as-map > maps/to-fill-in.json`,
    )
    .action(async (options: UnmappedOptions) => {
      await run(options, io);
    });
}

async function run(options: UnmappedOptions, io: Io): Promise<void> {
  const { rulebook, site } = loadKnowledge(options);
  const setting = { rulebook, ...(site && { site }), now: instantOf(options.now), engine: ENGINE_VERSION };
  const { from, codings } = await codingsOf(options, setting, io);
  const report = unmappedReport(codings, setting);
  if (options.asMap) io.out(`${JSON.stringify(unmappedMap(report), undefined, 2)}\n`);
  else io.out(options.json ? `${JSON.stringify(report, undefined, 2)}\n` : unmappedText(report, from));
  io.setExitCode(report.local.some(({ isMappedNow }) => !isMappedNow) ? 1 : 0);
}

interface Counted {
  /** Where they were counted, in words. */
  readonly from: string;
  readonly codings: readonly UnmappedCoding[];
}

async function codingsOf(options: UnmappedOptions, setting: EvaluationSetting, io: Io): Promise<Counted> {
  const { store, sample } = options;
  if ((store === undefined) === (sample === undefined))
    throw new CallError(
      `expected one of --store and --sample, found ${store === undefined ? 'none' : 'both'}`,
      'kotyle unmapped --help',
    );
  if (options.asMap && options.json)
    throw new CallError('--as-map and --json: expected one of them, found both');
  if (sample !== undefined) return await fromSample(sample, setting, io);
  const kept = await keptStore(store ?? '');
  try {
    const totals = await kept.unmappedTotals();
    return {
      from: 'over all decisions the service has kept',
      codings: totals.map(({ system = '-', ...coding }) => ({ ...coding, system })),
    };
  } finally {
    await kept.close();
  }
}

async function fromSample(source: string, setting: EvaluationSetting, io: Io): Promise<Counted> {
  const { over, total, members } = sampleSource(source);
  const advisor = newAdvisor(setting.rulebook);
  const counts = new UnmappedCounts(setting.rulebook);
  const progress = progressOf('members of the sample', total, io);
  const unreadable = unreadableLines(io);
  let done = 0;
  for await (const member of members(setting)) {
    if ('why' in member) unreadable.tell(member.where, member.why);
    else {
      const advices: Advice[] = [];
      for (const input of member.inputs) advices.push(await advise(input, advisor));
      counts.add(advices);
    }
    done += 1;
    progress.tell(done);
  }
  progress.end();
  unreadable.end();
  return { from: `over ${over}`, codings: counts.totals() };
}

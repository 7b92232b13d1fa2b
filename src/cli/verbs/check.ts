import { existsSync, readFileSync, readdirSync } from 'node:fs';
import { basename, dirname, join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';
import { Presets, SingleBar } from 'cli-progress';
import type { Command } from 'commander';
import { isDay } from '../../base/dates.js';
import { COMPUTATIONS } from '../../engine/computations.js';
import { isUcumUnit, ucumFactor } from '../../facts/ucum.js';
import type { Rulebook } from '../../rulebook/types.js';
import { HAZARD_FILE } from '../../workbench/check/check-hazards.js';
import { checkRulebook } from '../../workbench/check/check-rulebook.js';
import type { CheckResult } from '../../workbench/check/check-rulebook.js';
import { documentOf, textOf } from '../../workbench/check/check-report.js';
import type { Told } from '../../workbench/check/check-report.js';
import { checkSite } from '../../workbench/check/check-site.js';
import { readEvidence } from '../../workbench/check/evidence.js';
import type { Evidence } from '../../workbench/check/evidence.js';
import { UnusableInput } from '../../workbench/check/finding.js';
import type { CheckFinding } from '../../workbench/check/finding.js';
import { readRuleTexts } from '../../workbench/check/rule-texts.js';
import { edgesSchema } from '../../workbench/trial/edge-schema.js';
import { readChecked } from '../../workbench/checked-file.js';
import { SHIPPED } from '../../workbench/shipped-fixtures.js';
import { readTestPatients } from '../../workbench/test-patients.js';
import { readReleases } from '../../rulebook-files/read-release.js';
import { CallError } from '../io.js';
import type { Io } from '../io.js';
import { rulesFolder, withKnowledge } from '../knowledge.js';

interface CheckOptions {
  readonly rules?: string;
  readonly site?: string;
  readonly evidence?: string;
  readonly patients?: string;
  readonly seed: string;
  readonly on?: string;
  readonly states: string;
  readonly json?: true;
}

/** Where a checkout has its evidence records and test patients. */
const CHECKOUT = fileURLToPath(new URL('../../../', import.meta.url));
const RECORDS = join(CHECKOUT, 'tests/published/evidence/records.json');
const PATIENTS = join(CHECKOUT, 'fixtures/patients');

/** Adds `check`: tells everything wrong in a rulebook that is seen without running it on patients. */
export function checkCommand(program: Command, io: Io): void {
  withKnowledge(program.command('check'))
    .description(
      'find what is wrong in a rulebook without running it on patients: file, line, expected, found',
    )
    .option('--evidence <file>', 'records to compare citations with (default: those of a checkout)')
    .option(
      '--patients <folder>',
      'test patients, of which each rule needs one (default: those of a checkout)',
    )
    .option('--states <number>', 'sampled hips on which opposing advice is looked for', '2000')
    .option('--seed <number>', 'seed of the sampled hips', '1')
    .option('--on <day>', 'the day from which what a site decided is looked at (default: today)')
    .option('--json', 'one JSON document on standard output')
    .addHelpText(
      'after',
      '\nExamples:\n  kotyle check\n  kotyle check --site ./site.json\n  kotyle check --rules ./our-rules --evidence ./our-records.json --json\n\nNotes are told and make nothing fail.',
    )
    .action(async (options: CheckOptions) => {
      const told = await run(options, io);
      io.out(options.json ? `${JSON.stringify(documentOf(told), null, 2)}\n` : textOf(told));
      const isBroken = told.findings.some(({ check }) => check === 'syntax');
      if (isBroken)
        io.err(
          `kotyle: ${told.folder} has files that are no JSON; nothing else was checked\ntry: mend the lines told, then check again\n`,
        );
      io.setExitCode(isBroken ? 2 : told.findings.length > 0 ? 1 : 0);
    });
}

async function run(options: CheckOptions, io: Io): Promise<Told> {
  const root = rulesFolder(options);
  const now = instantOf(options.on);
  const expectedRules = expectedIn(options);
  const schemas = schemasIn(join(root, 'schema'));
  const hazards = hazardsIn(root);
  const evidence = evidenceOf(options);
  const count = whole(options.states, '--states');
  const bar = progress(io, count);
  const result = await checkRulebook({
    rules: asCall(() => readRuleTexts(root)),
    computations: COMPUTATIONS,
    units: { isUnit: isUcumUnit, isSameDimension: (a, b) => ucumFactor(a, b) !== undefined },
    ...(evidence && { evidence }),
    ...(expectedRules && { expectedRules }),
    ...(schemas && { schemas }),
    ...(hazards !== undefined && { hazards }),
    releases: readReleases(root),
    sample: { seed: whole(options.seed, '--seed'), count },
    onProgress: (done) => {
      bar.update(done);
    },
  }).finally(() => {
    bar.stop();
  });
  const folder = shownPath(root);
  const inFolder = (finding: CheckFinding): CheckFinding => ({
    ...finding,
    file: `${folder}/${finding.file}`,
  });
  const site = siteFindings(options.site, result.rulebook, now);
  return {
    ...result,
    folder,
    findings: [...result.findings.map(inFolder), ...site.findings],
    notes: [...result.notes.map(inFolder), ...site.notes],
    skipped: [...result.skipped, ...site.skipped],
  };
}

interface Progress {
  readonly update: (done: number) => void;
  readonly stop: () => void;
}

const BETWEEN_LINES_MS = 5_000;

/** A bar on a terminal; elsewhere a line now and then, so that a log stays readable. */
function progress(io: Io, count: number): Progress {
  if (io.isTerminal) {
    const bar = new SingleBar(
      { format: 'sampled hips {bar} {value}/{total}', clearOnComplete: true, etaBuffer: 100 },
      Presets.shades_classic,
    );
    bar.start(count, 0);
    return {
      update: (done) => {
        bar.update(done);
      },
      stop: () => {
        bar.stop();
      },
    };
  }
  let told = Date.now();
  return {
    update: (done) => {
      if (Date.now() - told < BETWEEN_LINES_MS) return;
      told = Date.now();
      io.err(`${done} of ${count} sampled hips looked at\n`);
    },
    stop: () => undefined,
  };
}

function siteFindings(
  path: string | undefined,
  rulebook: Rulebook | undefined,
  now: string,
): Pick<CheckResult, 'findings' | 'notes' | 'skipped'> {
  const nothing = { findings: [], notes: [], skipped: [] };
  if (path === undefined) return nothing;
  if (!rulebook) return { ...nothing, skipped: [{ check: 'site', why: 'the rulebook can not be loaded' }] };
  const folder = shownPath(dirname(path));
  const { findings, notes } = asCall(() => checkSite(path, rulebook, now));
  const inFolder = (one: CheckFinding): CheckFinding => ({ ...one, file: `${folder}/${one.file}` });
  return { findings: findings.map(inFolder), notes: notes.map(inFolder), skipped: [] };
}

/** The time a site's days are counted from. */
function instantOf(day: string | undefined): string {
  if (day === undefined) return new Date().toISOString();
  if (!isDay(day)) throw new CallError(`--on: expected a day such as 2026-11-02, found ${day}`);
  return `${day}T12:00:00.000Z`;
}

function evidenceOf({ evidence }: CheckOptions): Evidence | undefined {
  if (evidence !== undefined) return asCall(() => readEvidence(evidence));
  return existsSync(RECORDS) ? asCall(() => readEvidence(RECORDS)) : undefined;
}

function expectedIn({ patients }: CheckOptions): ReadonlySet<string> | undefined {
  const folder = patients ?? (existsSync(PATIENTS) ? PATIENTS : undefined);
  if (folder === undefined) return undefined;
  const read = readTestPatients(folder);
  if (!read.ok) throw new CallError(read.faults.join('\n'), 'kotyle trial tells more about test patients');
  return new Set([
    ...read.value.flatMap(({ expected }) =>
      Object.values(expected.cards).flatMap((cards) => cards.map(({ rule }) => rule)),
    ),
    ...(patients === undefined ? firedByEdges() : []),
  ]);
}

/** Rules that a shipped edge case makes fire: one patient, one thing changed. */
function firedByEdges(): readonly string[] {
  if (!existsSync(SHIPPED.edges)) return [];
  const files = readdirSync(SHIPPED.edges).filter((name) => name.endsWith('.json'));
  return files.flatMap((name) => {
    const read = readChecked(join(SHIPPED.edges, name), edgesSchema);
    if (!read.ok) throw new CallError(read.faults.join('\n'), 'kotyle trial tells more about edge cases');
    const { rule, groups } = read.value;
    return groups.some(({ cases }) => cases.some(({ expect }) => expect === 'fires')) ? [rule] : [];
  });
}

/** The JSON Schemas beside a rulebook, by name; undefined where it has none. */
function schemasIn(folder: string): ReadonlyMap<string, string> | undefined {
  if (!existsSync(folder)) return undefined;
  const files = readdirSync(folder).filter((name) => name.endsWith('.schema.json'));
  return new Map(
    files.map((name) => [basename(name, '.schema.json'), readFileSync(join(folder, name), 'utf8')]),
  );
}

/** The hazard log beside a rulebook; undefined where it has none. */
function hazardsIn(root: string): string | undefined {
  const path = join(root, HAZARD_FILE);
  return existsSync(path) ? readFileSync(path, 'utf8') : undefined;
}

function whole(text: string, option: string): number {
  const value = Number(text);
  if (!Number.isSafeInteger(value) || value < 0)
    throw new CallError(`${option}: expected a whole number of 0 or more, found ${text}`);
  return value;
}

/** A path as it would be typed from here. */
function shownPath(path: string): string {
  const near = relative(process.cwd(), path).replaceAll('\\', '/');
  if (near === '') return '.';
  return near.startsWith('../') ? path : near;
}

function asCall<Value>(read: () => Value): Value {
  try {
    return read();
  } catch (error) {
    if (error instanceof UnusableInput) throw new CallError(error.message, error.advice, { cause: error });
    throw error;
  }
}

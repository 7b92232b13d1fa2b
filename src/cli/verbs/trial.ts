import { randomInt } from 'node:crypto';
import { existsSync, mkdirSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import type { Command } from 'commander';
import { newAdvisor } from '../../advice/index.js';
import { asObject } from '../../fhir/json.js';
import { readPack } from '../../rulebook-files/read-pack.js';
import { ENGINE_VERSION } from '../../server/serve.js';
import { trialPage } from '../../workbench/report/trial-page.js';
import { ruleSources } from '../../workbench/rule-sources.js';
import { SHIPPED } from '../../workbench/shipped-fixtures.js';
import { readCases } from '../../workbench/trial/read-cases.js';
import { recordCase } from '../../workbench/trial/record/record-case.js';
import type { Recorded } from '../../workbench/trial/record/record-case.js';
import type { TrialSetting } from '../../workbench/trial/run-case.js';
import { runTrial } from '../../workbench/trial/trial.js';
import type { Trial } from '../../workbench/trial/trial.js';
import { trialText, uncovered } from '../../workbench/trial/trial-text.js';
import { readInput } from '../input.js';
import { CallError } from '../io.js';
import type { Io } from '../io.js';
import { loadKnowledge, rulesFolder, withKnowledge } from '../knowledge.js';
import type { KnowledgeOptions } from '../knowledge.js';
import { writeFault, writeWhole } from '../output.js';
import { progressOf } from '../progress.js';

interface TrialOptions extends KnowledgeOptions {
  readonly edges?: string;
  readonly html?: string;
  readonly json?: true;
  readonly record?: string;
  readonly as?: string;
  readonly into?: string;
  readonly teaches: string;
  readonly at?: string;
  readonly shiftDays?: string;
}

/** Adds `trial`: runs test patients, tells failures by the difference of trees, and what is not covered. */
export function trialCommand(program: Command, io: Io): void {
  withKnowledge(program.command('trial'))
    .description('run test patients: what fails and why, which outcomes and edges of limits they cover')
    .argument('[folder]', 'test patients (default: those shipped, with their edge cases)')
    .option('--edges <folder>', 'edge cases made of the test patients')
    .option('--html <file>', 'the report as one HTML file')
    .option('--json', 'one JSON document on standard output')
    .option('--record <file>', 'make a test patient of a CDS Hooks request or Bundle, identifiers removed')
    .option('--as <name>', 'with --record: what the test patient is called')
    .option('--into <folder>', 'with --record: where its folder is made', '.')
    .option('--teaches <line>', 'with --record: what it teaches', 'recorded, not judged yet')
    .option('--at <instant>', 'with --record: when the call was made (default: now)')
    .option('--shift-days <days>', 'with --record: how far dates are moved (default: drawn)')
    .addHelpText(
      'after',
      '\nExamples:\n  kotyle trial\n  kotyle trial ./our-patients --site ./our-site.json --html trial.html\n  kotyle trial --record request.json --as steep-cup-after-fusion --into ./our-patients\n\nA test patient is a folder with bundle.json (one FHIR R4 Bundle) and expected.json:\n  { "teaches": "...", "truth": "clinician", "now": "2026-11-24T10:00:00Z",\n    "cards": { "order-sign": [{ "rule": "...", "hip": "left", "indicator": "info" }] } }\n\nExit code 1: a test patient is not kept.',
    )
    .action(async (folder: string | undefined, options: TrialOptions) => {
      if (options.record === undefined) await tryPatients(folder, options, io);
      else await record(options.record, options, io);
    });
}

async function tryPatients(folder: string | undefined, options: TrialOptions, io: Io): Promise<void> {
  const { rulebook, site } = loadKnowledge(options);
  const edges = options.edges ?? (folder === undefined ? SHIPPED.edges : undefined);
  const patients = folder ?? SHIPPED.patients;
  const cases = readCases({ patients, ...(edges !== undefined && { edges }) }, rulebook);
  if (!cases.ok) throw new CallError(cases.faults.join('\n'), 'kotyle trial --help shows the form');
  const progress = progressOf('calls', cases.value.length, io);
  const trial = await runTrial({
    cases: cases.value,
    sources: ruleSources(readPack(rulesFolder(options))),
    setting: { advisor: newAdvisor(rulebook), engine: ENGINE_VERSION, ...(site && { site }) },
    over: folder === undefined ? 'the test patients and edge cases shipped' : folder,
    progress: (done) => {
      progress.tell(done);
    },
  }).finally(() => {
    progress.end();
  });
  if (options.html !== undefined) writeWhole(options.html, trialPage(trial, rulebook.about.deferral));
  io.out(options.json ? `${JSON.stringify(documentOf(trial), null, 2)}\n` : trialText(trial));
  io.setExitCode(trial.failures.length > 0 ? 1 : 0);
}

function documentOf(trial: Trial): Trial & { readonly uncovered: readonly string[] } {
  return { ...trial, uncovered: uncovered(trial) };
}

const NAME = /^[a-z0-9]+(?:-[a-z0-9]+)*$/;

async function record(file: string, options: TrialOptions, io: Io): Promise<void> {
  const { as: name, into = '.', teaches } = options;
  if (name === undefined || !NAME.test(name))
    throw new CallError(
      `--as: expected a name in lower case with hyphens, found ${name ?? 'none'}`,
      'name what the case teaches, such as steep-cup-after-fusion, and nobody',
    );
  const folder = join(into, name);
  if (existsSync(folder))
    throw new CallError(`--as: expected a name that is free, found ${folder} already there`);
  const { rulebook, site } = loadKnowledge(options);
  const setting: TrialSetting = {
    advisor: newAdvisor(rulebook),
    engine: ENGINE_VERSION,
    ...(site && { site }),
  };
  const recorded = await recordCase({
    source: await readSource(file),
    name,
    teaches,
    at: instantOf(options.at),
    shiftDays: daysOf(options.shiftDays),
    setting,
  });
  if (!recorded.ok) throw new CallError(`${file}: ${recorded.faults.join('\n')}`);
  writeCase(folder, recorded.value);
  io.out(
    options.json
      ? `${JSON.stringify({ folder, ...recorded.value }, null, 2)}\n`
      : recordedText(folder, recorded.value),
  );
  io.setExitCode(recorded.value.changed.length > 0 ? 1 : 0);
}

async function readSource(file: string): Promise<NonNullable<ReturnType<typeof asObject>>> {
  let parsed: unknown;
  const text = await readInput(file);
  try {
    parsed = JSON.parse(text);
  } catch (error) {
    // The parser's own message would repeat a piece of the record.
    throw new CallError(`${file}: expected JSON, found something else`, undefined, { cause: error });
  }
  const source = asObject(parsed);
  if (!source) throw new CallError(`${file}: expected a CDS Hooks request or a Bundle, found no JSON object`);
  return source;
}

function instantOf(at: string | undefined): string {
  if (at === undefined) return new Date().toISOString();
  if (Number.isNaN(Date.parse(at)) || !at.includes('T'))
    throw new CallError(`--at: expected an instant such as 2026-11-24T10:00:00Z, found ${at}`);
  return at;
}

const FEWEST_DAYS = 400;
const MOST_DAYS = 2000;

/** Drawn where it is not given, and told nowhere: who knew it could undo it. */
function daysOf(text: string | undefined): number {
  if (text === undefined) return -randomInt(FEWEST_DAYS, MOST_DAYS);
  const days = Number(text);
  if (!Number.isSafeInteger(days))
    throw new CallError(`--shift-days: expected a whole number, found ${text}`);
  return days;
}

/** Both files or none: a folder with one of them is no test patient. */
function writeCase(folder: string, { patient: { bundle, expected } }: Recorded): void {
  try {
    mkdirSync(folder, { recursive: true });
  } catch (error) {
    throw writeFault(folder, error);
  }
  try {
    writeWhole(join(folder, 'bundle.json'), `${JSON.stringify(bundle, null, 2)}\n`);
    writeWhole(join(folder, 'expected.json'), `${JSON.stringify(expected, null, 2)}\n`);
  } catch (error) {
    rmSync(folder, { recursive: true, force: true });
    throw error;
  }
}

function recordedText(folder: string, { patient: { expected }, changed }: Recorded): string {
  const lines = [
    `Test patient made: ${folder}`,
    'Identifiers, names, addresses and free text removed; dates moved. Read it before you share it.',
    ...Object.entries(expected.cards).map(
      ([hook, cards]) =>
        `  ${hook}: ${cards.map(({ indicator, rule, hip }) => `${indicator} ${rule} ${hip}`).join('; ') || 'no card'}`,
    ),
    'expected.json holds what was answered now: judge it, then change "truth".',
    ...changed.map(
      ({ hook, before, after }) =>
        `Removing identifiers changed the answer at ${hook}: before ${before.join('; ') || 'no card'}; now ${after.join('; ') || 'no card'}`,
    ),
  ];
  return `${lines.join('\n')}\n`;
}

import { statSync } from 'node:fs';
import { Argument, Option } from 'commander';
import type { Command } from 'commander';
import { newAdvisor } from '../../advice/index.js';
import type { AdviceInput, Hook } from '../../advice/index.js';
import { cardText } from '../../render/text.js';
import { ENGINE_VERSION } from '../../server/serve.js';
import { evaluatePatient } from '../../advice/evaluate-patient.js';
import type { HookAnswer, PatientEvaluation } from '../../advice/evaluate-patient.js';
import { evaluationText } from '../../workbench/evaluate/evaluation-text.js';
import { evaluationBundle } from '../../render/fhir/evaluation-bundle.js';
import { HOOKS_BY_NAME, inputsFromBundle, inputsFromServer } from '../../advice/hook-inputs.js';
import type { EvaluationSetting, HookName } from '../../advice/hook-inputs.js';
import { contentsOf, readPatientBundle } from '../../workbench/evaluate/read-bundle.js';
import { readableEvaluation } from '../../workbench/evaluate/readable.js';
import { evaluationPage } from '../../workbench/report/evaluation-page.js';
import { runCohort } from '../cohort-run.js';
import { readFromServer } from '../fhir-patient.js';
import { readInput, readTextFile } from '../input.js';
import type { ReadInput } from '../input.js';
import { instantOf } from '../instant.js';
import { CallError } from '../io.js';
import type { Io } from '../io.js';
import { loadKnowledge, withKnowledge } from '../knowledge.js';
import type { KnowledgeOptions } from '../knowledge.js';
import { writeWhole } from '../output.js';

const FORMATS = ['text', 'json', 'cards', 'fhir', 'html'] as const;

interface EvaluateOptions extends KnowledgeOptions {
  readonly hook: HookName;
  readonly format?: (typeof FORMATS)[number];
  readonly json?: true;
  readonly out?: string;
  readonly now?: string;
  readonly patient?: string;
  readonly fhirServer?: string;
  readonly tokenFile?: string;
  readonly cohort?: string;
}

/** Adds `evaluate`: what the rules say about one patient, or about many. */
export function evaluateCommand(program: Command, io: Io, read: ReadInput = readInput): void {
  const verb = program
    .command('evaluate')
    .description(
      'say what the rules find for one patient, with the tree behind each outcome, or for a cohort',
    )
    .addArgument(
      new Argument('[bundle]', 'a FHIR R4 Bundle with one patient: a file, or - for standard input'),
    )
    .addOption(
      new Option('--hook <name>', 'what is being done').choices(Object.keys(HOOKS_BY_NAME)).default('all'),
    )
    .addOption(new Option('--format <form>', 'form of the answer (default: text)').choices(FORMATS))
    .option('--json', 'the same as --format json')
    .option('--out <file>', 'write there instead of printing')
    .option('--now <instant>', 'the time to evaluate at, ISO 8601 (default: now)')
    .option('--patient <id>', 'read this patient from a FHIR server instead')
    .option('--fhir-server <url>', 'base URL of that server; nothing else is asked')
    .option('--token-file <file>', 'file with an access token for it')
    .option(
      '--cohort <source>',
      'a folder of Bundles, a file with one Bundle a line, or synthetic:<profile>:<count>:<seed>',
    );
  withKnowledge(verb)
    .addHelpText('after', HELP)
    .action(async (bundle: string | undefined, options: EvaluateOptions) => {
      if (options.cohort !== undefined) await runCohort(options.cohort, cohortCall(bundle, options), io);
      else await evaluateOne(bundle, options, io, read);
    });
}

const HELP = `
Forms: text (cards, then each rule's outcome with its tree), json (the evaluation), cards (the CDS Hooks answer),
fhir (R4 GuidanceResponses), html (one file that asks nothing of the network). With --hook all, json and cards
have one member for each hook. A cohort has text, json and html.

Examples:
  kotyle evaluate patient.json
  kotyle evaluate patient.json --format html --out patient.html
  cat patient.json | kotyle evaluate - --hook order --json
  kotyle evaluate --patient 123 --fhir-server https://record.example/fhir --token-file token.txt
  kotyle evaluate --cohort bundles/ --format html --out cohort.html`;

type Format = (typeof FORMATS)[number];

function formatOf({ format, json }: EvaluateOptions): Format {
  if (json && format !== undefined && format !== 'json')
    throw new CallError(`--json and --format ${format}: expected one of them, found both`);
  return json ? 'json' : (format ?? 'text');
}

function cohortCall(bundle: string | undefined, options: EvaluateOptions): Parameters<typeof runCohort>[1] {
  if (bundle !== undefined || options.patient !== undefined)
    throw new CallError('--cohort: expected no other patient beside it, found one');
  const format = formatOf(options);
  if (format === 'cards' || format === 'fhir')
    throw new CallError(`--format ${format}: a cohort has text, json and html`);
  const { rulebook, site } = loadKnowledge(options);
  return {
    format,
    hooks: HOOKS_BY_NAME[options.hook],
    setting: { rulebook, ...(site && { site }), now: instantOf(options.now), engine: ENGINE_VERSION },
    ...(options.out !== undefined && { out: options.out }),
  };
}

async function evaluateOne(
  path: string | undefined,
  options: EvaluateOptions,
  io: Io,
  read: ReadInput,
): Promise<void> {
  const format = formatOf(options);
  const now = instantOf(options.now);
  const { rulebook, site } = loadKnowledge(options);
  const setting: EvaluationSetting = { rulebook, ...(site && { site }), now, engine: ENGINE_VERSION };
  const source = await sourceOf(path, options, setting, read);
  const evaluation = await evaluatePatient(source.inputs, newAdvisor(rulebook));
  const { answers } = evaluation;
  if (answers.length === 0) throw nothingFound(evaluation, source, options.hook);
  for (const { hook, why } of evaluation.refused) io.err(`kotyle: ${hook} could not be answered: ${why}\n`);
  const text = written(answers, format, { setting, record: source.record, isAll: options.hook === 'all' });
  if (options.out === undefined) io.out(text);
  else {
    writeWhole(options.out, text);
    io.err(`wrote ${options.out}\n`);
  }
  const broken = answers.flatMap(({ answer }) => answer.faults);
  for (const { rule, hip, construct } of broken)
    io.err(`kotyle: ${rule} could not be evaluated (${hip}, ${construct}); kotyle check may tell why\n`);
  io.setExitCode(broken.length > 0 || evaluation.refused.length > 0 ? 1 : 0);
}

interface Source {
  readonly inputs: readonly AdviceInput[];
  /** What was read, for a reader of the report. */
  readonly record: string;
  readonly where: string;
  /** What was found there, for a message. */
  readonly holds: string;
}

async function sourceOf(
  path: string | undefined,
  options: EvaluateOptions,
  setting: EvaluationSetting,
  read: ReadInput,
): Promise<Source> {
  const hooks: readonly Hook[] = HOOKS_BY_NAME[options.hook];
  const { patient, fhirServer } = options;
  if (patient !== undefined || fhirServer !== undefined) {
    if (path !== undefined) throw new CallError('expected a Bundle or --patient, found both');
    if (patient === undefined || fhirServer === undefined)
      throw new CallError('--patient and --fhir-server: expected both, found one');
    const address = { patientId: patient, server: fhirServer, ...tokenOf(options) };
    const record = await readFromServer(address, setting);
    const counts = [...record.sets].map(([key, { resources }]) => `${key} ${resources.length}`);
    return {
      inputs: inputsFromServer(record, hooks, setting),
      record: `Read from ${record.base}; what could not be read there counts as not known.`,
      where: `Patient/${patient}`,
      holds: counts.join(', '),
    };
  }
  if (path === undefined)
    throw new CallError(
      'expected a Bundle, --patient or --cohort, found none of them',
      'kotyle evaluate --help',
    );
  if (statSync(path, { throwIfNoEntry: false })?.isDirectory())
    throw new CallError(
      `expected a Bundle of one patient, found a folder at ${path}`,
      `kotyle evaluate --cohort ${path}`,
    );
  const where = path === '-' ? 'standard input' : path;
  const found = readPatientBundle(await read(path), where);
  if (!found.ok) throw new CallError(found.message, found.advice);
  return {
    inputs: inputsFromBundle(found.bundle, hooks, setting),
    record: 'The Bundle is taken as the whole record: what it does not hold counts as not recorded.',
    where,
    holds: contentsOf(found.bundle),
  };
}

function tokenOf({ tokenFile }: EvaluateOptions): { readonly token?: string } {
  if (tokenFile === undefined) return {};
  const token = readTextFile(tokenFile, 'a file with an access token').trim();
  if (token === '' || /\s/.test(token))
    throw new CallError(`--token-file: expected one token in ${tokenFile}, found none or several words`);
  return { token };
}

const LOOKED_FOR: Readonly<Record<HookName, string>> = {
  booking: 'a visit for a hip replacement',
  order: 'a draft order for a hip replacement',
  chart: 'a hip replacement ordered or in place',
  all: 'a visit or draft order for a hip replacement, or a hip replacement ordered or in place',
};

function nothingFound({ refused }: PatientEvaluation, { where, holds }: Source, hook: HookName): CallError {
  const why = refused.map((one) => `${one.hook}: ${one.why}`).join('; ');
  return new CallError(
    `${where}: expected ${LOOKED_FOR[hook]}, found ${refused.length === 0 ? `none among ${holds}` : why}`,
    refused.length === 0
      ? 'check codes and status of the order (draft) or visit (proposed, pending, booked), or give --site with the maps of local codes'
      : undefined,
  );
}

function written(
  answers: readonly HookAnswer[],
  format: Format,
  {
    setting,
    record,
    isAll,
  }: { readonly setting: EvaluationSetting; readonly record: string; readonly isAll: boolean },
): string {
  const { rulebook } = setting;
  switch (format) {
    case 'text':
      return evaluationText(readableEvaluation(answers, rulebook), cardText, record);
    case 'html':
      return evaluationPage(readableEvaluation(answers, rulebook), record);
    case 'fhir':
      return json(evaluationBundle(answers, { rulebook, now: setting.now }));
    case 'json':
      return json(byHook(answers, isAll, ({ answer }) => answer.evaluation()));
    case 'cards':
      return json(byHook(answers, isAll, ({ answer }) => ({ cards: answer.cards })));
  }
}

function byHook(
  answers: readonly HookAnswer[],
  isAll: boolean,
  value: (answer: HookAnswer) => unknown,
): unknown {
  const [only] = answers;
  if (!isAll && only) return value(only);
  return Object.fromEntries(answers.map((answer) => [answer.hook, value(answer)]));
}

function json(value: unknown): string {
  return `${JSON.stringify(value, undefined, 2)}\n`;
}

import { Argument, Option } from 'commander';
import type { Command } from 'commander';
import { auditEvent } from '../../server/export/audit-event.js';
import { csvRow } from '../../server/export/csv.js';
import { DECISION_COLUMNS, decisionRows } from '../../server/export/decision-lines.js';
import { FEEDBACK_COLUMNS, feedbackRow } from '../../server/export/feedback-lines.js';
import type { Selection, Store } from '../../store/store.js';
import { readInstant } from '../instant.js';
import { CallError } from '../io.js';
import type { Io } from '../io.js';
import { settings, withStore } from '../kept-store.js';
import { LineFile } from '../line-file.js';
import { progressOf } from '../progress.js';

const FORMATS = ['ndjson', 'csv', 'audit-event'] as const;

interface ExportOptions {
  readonly format: (typeof FORMATS)[number];
  readonly from?: string;
  readonly to?: string;
  readonly iss?: string;
  readonly heads?: true;
  readonly out?: string;
}

/** Adds `export`: what the service kept, for whoever audits it or learns from it. */
export function exportCommand(program: Command, io: Io): void {
  program
    .command('export')
    .description(
      'write what the service kept: decisions with their outcomes, or what clinicians did with cards',
    )
    .addArgument(
      new Argument('[what]', 'what to write').choices(['decisions', 'feedback']).default('decisions'),
    )
    .addOption(new Option('--format <form>', 'form of the lines').choices(FORMATS).default('ndjson'))
    .option('--from <instant>', 'only from this time on, ISO 8601')
    .option('--to <instant>', 'only before this time, ISO 8601')
    .option('--iss <client>', 'only of this client')
    .option('--heads', 'where each chain ends, as one JSON document: for kotyle verify --heads')
    .option('--out <file>', 'write there, readable by its owner only, instead of printing')
    .addHelpText('after', HELP)
    .action(async (what: 'decisions' | 'feedback', options: ExportOptions) => {
      const selection = selectionOf(options);
      if (what === 'feedback' && options.format === 'audit-event')
        throw new CallError('--format audit-event: feedback has ndjson and csv');
      await withStore(settings(), io, async (store) => {
        const lines = options.heads
          ? headLines(store)
          : linesOf(what, options.format, store.decisions(selection), store.answers(selection));
        await write(lines, options, io);
      });
      io.setExitCode(0);
    });
}

const HELP = `
The store and its keys are those of the service: KOTYLE_STORE, KOTYLE_CONTENT_KEY. Without the second, comments stay
sealed. What is written is health data: patients and users stand in it as pseudonyms, comments as they were written.

Examples:
  kotyle export decisions --format csv --from 2026-11-01 --to 2026-12-01 --out november.csv
  kotyle export feedback --format csv --out feedback.csv
  kotyle export decisions --format audit-event --out audit.ndjson
  kotyle export --heads --out heads.json`;

function selectionOf({ from, to, iss }: ExportOptions): Selection {
  return {
    ...(from !== undefined && { from: readInstant(from, '--from') }),
    ...(to !== undefined && { to: readInstant(to, '--to') }),
    ...(iss !== undefined && { iss }),
  };
}

async function* linesOf(
  what: 'decisions' | 'feedback',
  format: ExportOptions['format'],
  decisions: ReturnType<Store['decisions']>,
  answers: ReturnType<Store['answers']>,
): AsyncGenerator<string, void, undefined> {
  const isCsv = format === 'csv';
  if (what === 'feedback') {
    if (isCsv) yield csvRow(FEEDBACK_COLUMNS);
    for await (const answer of answers) yield isCsv ? feedbackRow(answer) : JSON.stringify(answer);
    return;
  }
  if (isCsv) yield csvRow(DECISION_COLUMNS);
  for await (const record of decisions) {
    if (isCsv) yield* decisionRows(record);
    else yield JSON.stringify(format === 'audit-event' ? auditEvent(record) : record);
  }
}

async function* headLines(store: Store): AsyncGenerator<string, void, undefined> {
  yield JSON.stringify({ kotyleHeads: 1, heads: await store.heads() });
}

/** CSV ends its lines as RFC 4180 asks. */
async function write(
  lines: AsyncIterable<string>,
  { format, out, heads }: ExportOptions,
  io: Io,
): Promise<void> {
  const end = format === 'csv' && !heads ? '\r' : '';
  if (out === undefined) {
    for await (const line of lines) io.out(`${line}${end}\n`);
    return;
  }
  const progress = progressOf('lines', undefined, io);
  const file = new LineFile(out, out, 0o600);
  try {
    for await (const line of lines) {
      file.add(`${line}${end}`);
      progress.tell(file.lines);
    }
    file.close();
    file.name();
  } finally {
    progress.end();
    file.discard();
  }
  io.err(`wrote ${file.lines} lines to ${out}\n`);
}

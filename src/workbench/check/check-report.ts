import type { Rulebook } from '../../rulebook/types.js';
import type { CheckResult } from './check-rulebook.js';
import type { CheckFinding } from './finding.js';

/** What is told of a check, with paths as the reader knows them. */
export interface Told extends Pick<CheckResult, 'findings' | 'notes' | 'skipped'> {
  readonly folder: string;
  readonly rulebook?: Rulebook;
  readonly fired?: ReadonlyMap<string, number>;
}

/** One document for programs: everything told, in the same order. */
export function documentOf({ folder, rulebook, findings, notes, skipped, fired }: Told): unknown {
  return {
    rules: folder,
    ...(rulebook && {
      rulebook: { version: rulebook.about.version, hash: rulebook.hash, ...sizesOf(rulebook) },
    }),
    clean: findings.length === 0,
    findings,
    notes,
    skipped,
    ...(fired && { firedInSampledStates: Object.fromEntries(fired) }),
  };
}

function sizesOf({ rules, facts, parameters, citations }: Rulebook): Readonly<Record<string, number>> {
  return {
    rules: rules.length,
    facts: facts.length,
    parameters: parameters.size,
    citations: citations.size,
  };
}

/** For a person: findings by file, each with the line to go to, then notes, what was not checked, and a summary. */
export function textOf({ folder, rulebook, findings, notes, skipped }: Told): string {
  const lines = [
    ...grouped(findings),
    ...(notes.length > 0 ? ['notes', ...notes.map((note) => `  ${lineOf(note)}`), ''] : []),
    ...skipped.map(({ check, why }) => `not checked: ${check}, ${why}`),
    summaryOf(folder, findings, notes),
  ];
  if (rulebook) lines.push(rulebookLine(rulebook));
  return `${lines.join('\n')}\n`;
}

function grouped(findings: readonly CheckFinding[]): readonly string[] {
  const files = [...new Set(findings.map(({ file }) => file))];
  return files.flatMap((file) => [
    ...findings.filter((finding) => finding.file === file).map((finding) => lineOf(finding)),
    '',
  ]);
}

function lineOf({ file, line, check, path, expected, found }: CheckFinding): string {
  const where = path === '' ? '' : ` at ${path}`;
  return `${file}:${line}  ${check}${where}: expected ${expected}, found ${found}`;
}

function summaryOf(
  folder: string,
  findings: readonly CheckFinding[],
  notes: readonly CheckFinding[],
): string {
  const files = new Set(findings.map(({ file }) => file)).size;
  const told =
    findings.length === 0
      ? `${folder}: nothing wrong found`
      : `${folder}: ${count(findings.length, 'finding')} in ${count(files, 'file')}`;
  return notes.length === 0 ? told : `${told}, ${count(notes.length, 'note')}`;
}

function count(number: number, what: string): string {
  return `${number} ${what}${number === 1 ? '' : 's'}`;
}

function rulebookLine(rulebook: Rulebook): string {
  const sizes = Object.entries(sizesOf(rulebook)).map(([what, number]) => `${number} ${what}`);
  return `rulebook ${rulebook.about.version} (${rulebook.about.status}): ${sizes.join(', ')}\n${rulebook.hash}`;
}

/** The checks, in the order in which they are told. */
export const CHECKS = [
  'syntax',
  'form',
  'schema',
  'citations',
  'codes',
  'units',
  'parameters',
  'wording',
  'attributes',
  'reach',
  'shadow',
  'opposing',
  'patients',
  'hazards',
  'release',
  'site',
] as const;
export type CheckName = (typeof CHECKS)[number];

/** Something wrong in a file, before its line is known. A note is told and makes nothing fail. */
export interface Fault {
  readonly check: CheckName;
  readonly severity: 'error' | 'note';
  readonly file: string;
  /** Path inside the file, such as `when.any[0].value`; an item of a list may be named by its id. */
  readonly path: string;
  readonly expected: string;
  readonly found: string;
}

/** A fault with the line it stands on, counted from 1. */
export interface CheckFinding extends Fault {
  readonly line: number;
}

export type ReportFault = (file: string, path: string, expected: string, found: string) => void;

/** Collects the faults of one check. */
export function faultsOf(check: CheckName, find: (report: ReportFault) => void): readonly Fault[] {
  const faults: Fault[] = [];
  find((file, path, expected, found) =>
    faults.push({ check, severity: 'error', file, path, expected, found }),
  );
  return faults;
}

/** The input of a check can't be used at all: which, why, and what to try. */
export class UnusableInput extends Error {
  override readonly name = 'UnusableInput';

  constructor(
    message: string,
    readonly advice: string,
  ) {
    super(message);
  }
}

import type { DecisionRecord, KeptOutcome } from '../../store/store.js';
import { csvRow } from './csv.js';
import type { Cell } from './csv.js';

/** The columns of decisions: one row for what each rule said of each construct of a hip. */
export const DECISION_COLUMNS = [
  'evaluation',
  'date',
  'client',
  'tenant',
  'service',
  'hook',
  'patient (pseudonym)',
  'user (pseudonym)',
  'engine',
  'rulebook',
  'rulebook hash',
  'site',
  'site hash',
  'recognised',
  'silent',
  'hip',
  'construct',
  'rule',
  'rule version',
  'outcome',
  'shown',
] as const;

/** The rows of one decision; one without outcomes has a row all the same. */
export function decisionRows(record: DecisionRecord): readonly string[] {
  const common = commonCells(record);
  const outcomes = record.outcomes.length > 0 ? record.outcomes.map(outcomeCells) : [[]];
  return outcomes.map((cells) => csvRow(padded([...common, ...cells])));
}

function commonCells(record: DecisionRecord): readonly Cell[] {
  const { id, at, iss, tenant, service, hook, patient, user, engine, rulebook, site } = record;
  return [
    id,
    at,
    iss,
    tenant,
    service,
    hook,
    patient,
    user,
    engine,
    rulebook.version,
    rulebook.hash,
    site && `${site.id} ${site.version}`,
    site?.hash,
    record.recognised,
    record.silent === true,
  ];
}

function outcomeCells({ hip, construct, rule, ruleVersion, outcome, shown }: KeptOutcome): readonly Cell[] {
  return [hip, construct, rule, ruleVersion, outcome, shown];
}

function padded(cells: readonly Cell[]): readonly Cell[] {
  return DECISION_COLUMNS.map((_, index) => cells[index]);
}

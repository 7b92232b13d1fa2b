import type { OperationOutcome, OperationOutcomeIssue } from 'fhir/r4.js';
import { listUuid } from '../../base/hash.js';
import { isConflict } from './detected-issues.js';
import type { EvaluationScope, Named } from './evaluation-scope.js';

/** Sets about who asks and where, which a patient's record need not have. */
const OF_THE_CALL: ReadonlySet<string> = new Set(['user', 'encounter']);

/** What was not read, or not used, and why; and whatever else whoever asks must know. */
export function dataNotes(
  scopes: readonly EvaluationScope[],
  remarks: readonly string[],
): OperationOutcome & Named {
  const notes = [...new Set(scopes.flatMap(notesOf))].sort();
  const issue: OperationOutcomeIssue[] = [
    ...remarks.map((text) => issueOf('informational', text)),
    ...notes.map((text) => issueOf('incomplete', text)),
  ];
  if (issue.length === 0) issue.push(issueOf('informational', 'Everything that was sent was read.'));
  return {
    resourceType: 'OperationOutcome',
    id: listUuid([...scopes.map(({ evaluation }) => evaluation), 'notes', ...remarks]),
    issue,
  };
}

function issueOf(code: 'incomplete' | 'informational', text: string): OperationOutcomeIssue {
  return { severity: code === 'incomplete' ? 'warning' : 'information', code, details: { text } };
}

function notesOf({ one, hips, rulebook }: EvaluationScope): readonly string[] {
  const { sets, notes } = one.answer.record;
  return [
    ...Object.entries(sets).flatMap(([key, { status, why }]) =>
      status === 'complete' || (status === 'absent' && OF_THE_CALL.has(key))
        ? []
        : [`${rulebook.about.sets[key] ?? key}: ${why ?? status}`],
    ),
    ...notes.map(({ from, why }) => `${from}: ${why}`),
    ...hips.flatMap(({ findings }) =>
      findings.filter((finding) => !isConflict(finding)).map(({ text }) => text),
    ),
  ];
}

import type { ExportedAnswer } from '../../store/store.js';
import { csvRow } from './csv.js';

/**
 * The columns of feedback: the six that 45 CFR 170.315(b)(11)(ii)(C) names, then what tells which card and which rule.
 * A user is told as a pseudonym, and only where the decision is kept.
 */
export const FEEDBACK_COLUMNS = [
  'intervention',
  'action taken',
  'user feedback',
  'user (pseudonym)',
  'date',
  'location',
  'card',
  'rule version',
  'reason system',
  'reason code',
  'client',
  'evaluation',
  'received',
] as const;

export function feedbackRow(answer: ExportedAnswer): string {
  const { card, outcome, at, reason, comment, iss, service, receivedAt, shown } = answer;
  return csvRow([
    shown?.rule,
    outcome,
    answer.commentUnreadable ? '(a comment that is no longer kept)' : comment,
    shown?.user,
    at,
    shown ? `${service} ${shown.hook}` : service,
    card,
    shown?.ruleVersion,
    reason?.system,
    reason?.code,
    iss,
    shown?.decision,
    receivedAt,
  ]);
}

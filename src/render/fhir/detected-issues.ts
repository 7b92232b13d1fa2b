import type { DetectedIssue } from 'fhir/r4.js';
import { listUuid } from '../../base/hash.js';
import type { DataFinding, DataFindingKind } from '../../facts/definitions.js';
import { ENGINE, engineDevice, referencesIn, subjectOf } from './evaluation-scope.js';
import type { EvaluationScope, Named } from './evaluation-scope.js';
import { FINDING_SYSTEM } from './terminology.js';

/**
 * Contradictions of a record, with the harm if nothing is done about one: an operation on the wrong side or person cannot
 * be undone; a wrong number leads to a wrong card. What is only unreadable contradicts nothing.
 */
const HARM: Partial<Record<DataFindingKind, 'high' | 'moderate'>> = {
  'side-conflict': 'high',
  'side-contradiction': 'high',
  'other-side-plan': 'high',
  'other-patient': 'high',
  conflicting: 'moderate',
};

export function isConflict({ kind }: DataFinding): boolean {
  return HARM[kind] !== undefined;
}

/** Each contradiction of the record as an issue of its own, pointing at the resources that disagree; met at several occasions, it is one. */
export function detectedIssues(scopes: readonly EvaluationScope[]): readonly (DetectedIssue & Named)[] {
  const issues = new Map<string, DetectedIssue & Named>();
  for (const scope of scopes)
    for (const finding of scope.hips.flatMap(({ findings }) => findings).filter(isConflict)) {
      const { kind, text, from } = finding;
      const key = JSON.stringify([kind, text, from]);
      if (!issues.has(key)) issues.set(key, detectedIssue(finding, listUuid([scope.evaluation, key]), scope));
    }
  return [...issues.values()];
}

function detectedIssue(finding: DataFinding, id: string, scope: EvaluationScope): DetectedIssue & Named {
  const { kind, text, from } = finding;
  const severity = HARM[kind];
  const implicated = referencesIn(from);
  return {
    resourceType: 'DetectedIssue',
    id,
    contained: [engineDevice(scope)],
    status: 'preliminary',
    code: { coding: [{ system: FINDING_SYSTEM, code: kind, display: kind.replaceAll('-', ' ') }] },
    ...(severity && { severity }),
    patient: subjectOf(scope),
    identifiedDateTime: scope.one.input.now,
    author: ENGINE,
    ...(implicated.length > 0 && { implicated: [...implicated] }),
    detail: text,
  };
}

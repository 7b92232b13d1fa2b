import { codesIn, hasUnknownModifier } from '../fhir/codings.js';
import { asText } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { nameOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import {
  contradiction,
  dateProblem,
  isAtHip,
  isIrrelevant,
  isReadable,
  knownCodings,
  sidesIn,
  unreadable,
} from './diagnosis.js';
import type { Diagnosis, DiagnosisContext, DiagnosisReading } from './diagnosis.js';
import { sideOf } from './laterality.js';

const CLINICAL_STATUS = 'http://terminology.hl7.org/CodeSystem/condition-clinical';
const VERIFICATION_STATUS = 'http://terminology.hl7.org/CodeSystem/condition-ver-status';
const CURRENT: ReadonlySet<string> = new Set(['active', 'recurrence', 'relapse']);
const PAST: ReadonlySet<string> = new Set(['inactive', 'remission', 'resolved']);
const CERTAIN: ReadonlySet<string> = new Set(['confirmed']);
const TENTATIVE: ReadonlySet<string> = new Set(['unconfirmed', 'provisional', 'differential']);

/** Reads one entry of the problem list. */
export function readCondition(located: Located, context: DiagnosisContext): DiagnosisReading {
  const { resource } = located;
  const codings = knownCodings(resource['code'], context.knowledge);
  if (isIrrelevant(codings)) return { kind: 'nothing' };
  const from = nameOf(located);
  const { aliases } = context.knowledge;
  const verification = codesIn(resource['verificationStatus'], VERIFICATION_STATUS, aliases);
  const rejected = verification.find((code) => code === 'refuted' || code === 'entered-in-error');
  if (rejected !== undefined)
    return { kind: 'rejected', note: { from, why: `verification status ${rejected}` } };
  if (!isReadable(codings)) return unreadable(from, codings);
  return readDiagnosis(resource, { from, codings, verification }, context);
}

function readDiagnosis(
  resource: JsonObject,
  basics: Pick<Diagnosis, 'from' | 'codings'> & { readonly verification: readonly string[] },
  context: DiagnosisContext,
): DiagnosisReading {
  const { knowledge } = context;
  const clinical = codesIn(resource['clinicalStatus'], CLINICAL_STATUS, knowledge.aliases);
  const date = asText(resource['onsetDateTime']) ?? asText(resource['recordedDate']);
  const side = sideOf(resource, knowledge.laterality, knowledge.aliases);
  const tentative = basics.verification.find((code) => TENTATIVE.has(code));
  const unusable = unusableBecause(resource, clinical, basics.verification) ?? dateProblem(date, context.now);
  const diagnosis: Diagnosis = {
    from: basics.from,
    source: 'conditions',
    codings: basics.codings,
    when: clinical.some((code) => PAST.has(code)) || hasAbated(resource) ? 'past' : 'current',
    atHip: isAtHip(resource, knowledge),
    ...(tentative !== undefined && { tentative }),
    ...(unusable !== undefined && { unusable }),
    ...sidesIn(side),
    ...(date !== undefined && { date }),
  };
  const findings = side.kind === 'conflict' ? [contradiction(basics.from, 'diagnosis')] : [];
  return { kind: 'diagnosis', diagnosis, findings };
}

/** An abatement, in whatever form, says that the condition is over (con-4). */
function hasAbated(resource: JsonObject): boolean {
  return Object.keys(resource).some((name) => name.startsWith('abatement'));
}

/** Both statuses and the modifier extensions can turn a diagnosis around: an unknown one makes it unusable. */
function unusableBecause(
  resource: JsonObject,
  clinical: readonly string[],
  verification: readonly string[],
): string | undefined {
  if (hasUnknownModifier(resource)) return 'carries a modifier this service does not know';
  const stated = clinical.some((code) => CURRENT.has(code) || PAST.has(code));
  if (resource['clinicalStatus'] !== undefined && !stated) return 'clinical status not readable';
  const verified = verification.some((code) => CERTAIN.has(code) || TENTATIVE.has(code));
  return resource['verificationStatus'] !== undefined && !verified
    ? 'verification status not readable'
    : undefined;
}

import { readFhirDate } from '../base/dates.js';
import { sortedUnique } from '../base/order.js';
import { codesIn, codingsOf, hasUnknownModifier, isIcdSystem } from '../fhir/codings.js';
import type { Coding } from '../fhir/codings.js';
import { asText } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { nameOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import type { ConditionDefinition, DataFinding, Hip, Side } from './definitions.js';
import type { Fact, UnknownReason } from './fact.js';
import { absentFact, unknownFact } from './fact.js';
import type { FactKnowledge, Remarks } from './knowledge.js';
import { sideOf } from './laterality.js';
import { isInFuture } from './observation-reader.js';
import type { Note } from './readings.js';

const CLINICAL_STATUS = 'http://terminology.hl7.org/CodeSystem/condition-clinical';
const VERIFICATION_STATUS = 'http://terminology.hl7.org/CodeSystem/condition-ver-status';
const CURRENT: ReadonlySet<string> = new Set(['active', 'recurrence', 'relapse']);
const PAST: ReadonlySet<string> = new Set(['inactive', 'remission', 'resolved']);
const CERTAIN: ReadonlySet<string> = new Set(['confirmed']);
const TENTATIVE: ReadonlySet<string> = new Set(['unconfirmed', 'provisional', 'differential']);

/** A Condition reduced to what the facts ask of it. */
interface Diagnosis {
  readonly from: string;
  /** Each coding with the value sets it belongs to, looked up once. */
  readonly codings: readonly { readonly coding: Coding; readonly sets: ReadonlySet<string> }[];
  readonly when: 'current' | 'past';
  readonly tentative?: string;
  /** Empty when no side is stated. */
  readonly sides: readonly Side[];
  /** Why it can inform but not be relied on. */
  readonly unusable?: string;
  readonly date?: string;
}

export interface DiagnosisList {
  /** Diagnoses by the value sets their codes belong to. */
  readonly bySet: ReadonlyMap<string, readonly Diagnosis[]>;
  readonly notes: readonly Note[];
  readonly findings: readonly DataFinding[];
  /** Entries without any readable code: what they say stays unknown. */
  readonly unreadable: readonly string[];
  readonly setsMissing: readonly string[];
}

/** Reads the problem list once; each fact then looks into it. */
export function readDiagnoses(
  conditions: readonly Located[],
  context: {
    readonly knowledge: FactKnowledge;
    readonly now: number;
    readonly setsMissing: readonly string[];
  },
): DiagnosisList {
  const diagnoses: Diagnosis[] = [];
  const notes: Note[] = [];
  const findings: DataFinding[] = [];
  const unreadable: string[] = [];
  for (const located of conditions) {
    const { resource } = located;
    const codings = codingsOf(resource['code'], context.knowledge.aliases).map((coding) => ({
      coding,
      sets: context.knowledge.valueSets.setsOf(coding),
    }));
    const readable = codings.some(({ coding }) => coding.system !== undefined && coding.code !== undefined);
    // Most of a problem list has nothing to do with a hip: what is coded and in no value set needs no second look.
    if (readable && codings.every(({ sets }) => sets.size === 0)) continue;
    const from = nameOf(located);
    const verification = codesIn(
      resource['verificationStatus'],
      VERIFICATION_STATUS,
      context.knowledge.aliases,
    );
    const rejected = verification.find((code) => code === 'refuted' || code === 'entered-in-error');
    if (rejected !== undefined) {
      notes.push({ from, why: `verification status ${rejected}` });
      continue;
    }
    if (!readable) {
      unreadable.push(from);
      notes.push({ from, why: codings.length === 0 ? 'no code' : 'code without a code system' });
      continue;
    }
    const diagnosis = readDiagnosis(resource, { from, codings, verification }, context);
    diagnoses.push(diagnosis.value);
    findings.push(...diagnosis.findings);
    if (diagnosis.value.unusable !== undefined) notes.push({ from, why: diagnosis.value.unusable });
  }
  return { bySet: indexBySet(diagnoses), notes, findings, unreadable, setsMissing: context.setsMissing };
}

function indexBySet(diagnoses: readonly Diagnosis[]): ReadonlyMap<string, readonly Diagnosis[]> {
  const bySet = new Map<string, Diagnosis[]>();
  for (const diagnosis of diagnoses) {
    for (const id of new Set(diagnosis.codings.flatMap(({ sets }) => [...sets]))) {
      const list = bySet.get(id) ?? [];
      list.push(diagnosis);
      bySet.set(id, list);
    }
  }
  return bySet;
}

function readDiagnosis(
  resource: JsonObject,
  basics: {
    readonly from: string;
    readonly codings: Diagnosis['codings'];
    readonly verification: readonly string[];
  },
  context: { readonly knowledge: FactKnowledge; readonly now: number },
): { readonly value: Diagnosis; readonly findings: readonly DataFinding[] } {
  const { knowledge } = context;
  const clinical = codesIn(resource['clinicalStatus'], CLINICAL_STATUS, knowledge.aliases);
  const date = asText(resource['onsetDateTime']) ?? asText(resource['recordedDate']);
  const side = sideOf(resource, knowledge.laterality, knowledge.aliases);
  const tentative = basics.verification.find((code) => TENTATIVE.has(code));
  const unusable = unusableBecause(resource, clinical, basics.verification, date, context.now);
  const findings = side.kind === 'conflict' ? [contradiction(basics.from)] : [];
  return {
    value: {
      from: basics.from,
      codings: basics.codings,
      when: clinical.some((code) => PAST.has(code)) || hasAbated(resource) ? 'past' : 'current',
      sides: side.kind === 'sides' ? side.sides : [],
      ...(tentative !== undefined && { tentative }),
      ...(unusable !== undefined && { unusable }),
      ...(side.kind === 'conflict' && { unusable: 'names more than one side' }),
      ...(date !== undefined && { date }),
    },
    findings,
  };
}

/** An abatement, in whatever form, says that the condition is over (con-4). */
function hasAbated(resource: JsonObject): boolean {
  return Object.keys(resource).some((name) => name.startsWith('abatement'));
}

function contradiction(from: string): DataFinding {
  const text = 'one diagnosis names more than one side';
  return { kind: 'side-contradiction', hip: 'any', construct: 'any', text, from: [from] };
}

/** Both statuses and the modifier extensions can turn a diagnosis around: an unknown one makes it unusable. */
function unusableBecause(
  resource: JsonObject,
  clinical: readonly string[],
  verification: readonly string[],
  date: string | undefined,
  now: number,
): string | undefined {
  if (hasUnknownModifier(resource)) return 'carries a modifier this service does not know';
  if (
    resource['clinicalStatus'] !== undefined &&
    !clinical.some((code) => CURRENT.has(code) || PAST.has(code))
  ) {
    return 'clinical status not readable';
  }
  const verified = verification.some((code) => CERTAIN.has(code) || TENTATIVE.has(code));
  if (resource['verificationStatus'] !== undefined && !verified) return 'verification status not readable';
  const span = readFhirDate(date);
  if (date !== undefined && !span) return 'date not readable';
  return span && isInFuture(span, now) ? 'dated in the future' : undefined;
}

/** One diagnosis of one hip (or of the patient): present, absent from a list wholly read, or unknown and why. */
export function conditionFact(
  definition: ConditionDefinition,
  hip: Hip,
  list: DiagnosisList,
  remarks: Remarks,
): Fact {
  const matches = meaning(definition, definition.valueSet, list);
  const usable = matches.filter(
    (diagnosis) => diagnosis.unusable === undefined && isTimely(definition, diagnosis),
  );
  const here = usable.filter((diagnosis) => isHere(definition, diagnosis, hip));
  if (here.length > 0) return presentCondition(definition, here, remarks);
  if (definition.scope === 'hip' && hip === 'unknown' && usable.length > 0)
    return unknown(definition, 'side-unknown', usable);
  const doubtful = matches.filter((diagnosis) => diagnosis.unusable !== undefined);
  if (doubtful.length > 0) return unknown(definition, 'refused', doubtful);
  const unclear = unclearMatches(definition, list);
  if (unclear.length > 0) return unknown(definition, 'code-unclear', unclear);
  if (list.setsMissing.length > 0)
    return unknownFact(definition.id, 'set-not-read', { setsMissing: list.setsMissing });
  if (list.unreadable.length > 0) {
    return unknownFact(definition.id, 'refused', { provenance: { from: sortedUnique(list.unreadable) } });
  }
  return absentFact(definition.id);
}

function unclearMatches(definition: ConditionDefinition, list: DiagnosisList): readonly Diagnosis[] {
  const { unclearValueSet } = definition;
  if (unclearValueSet === undefined) return [];
  return meaning(definition, unclearValueSet, list);
}

function meaning(
  definition: ConditionDefinition,
  valueSet: string,
  list: DiagnosisList,
): readonly Diagnosis[] {
  const candidates = list.bySet.get(valueSet) ?? [];
  return candidates.filter(({ codings }) =>
    codings.some(({ coding, sets }) => sets.has(valueSet) && isRightPhase(definition, coding)),
  );
}

/** ICD-10-CM injuries: the seventh character tells a fresh fracture from its healing, nonunion or late effect. */
function isRightPhase(definition: ConditionDefinition, coding: Coding): boolean {
  if (!definition.seventhCharacters || coding.system === undefined || !isIcdSystem(coding.system))
    return true;
  const seventh = coding.code?.charAt(6) ?? '';
  return seventh === '' || definition.seventhCharacters.includes(seventh);
}

function isTimely(definition: ConditionDefinition, diagnosis: Diagnosis): boolean {
  return definition.status === 'lifetime' || diagnosis.when === 'current';
}

function isHere(definition: ConditionDefinition, diagnosis: Diagnosis, hip: Hip): boolean {
  if (definition.scope === 'patient') return true;
  if (diagnosis.sides.length === 0) return true;
  return hip !== 'unknown' && diagnosis.sides.includes(hip);
}

function presentCondition(definition: ConditionDefinition, here: readonly Diagnosis[], words: Remarks): Fact {
  const firm = here.some((diagnosis) => diagnosis.tentative === undefined);
  const sided = definition.scope === 'patient' || here.some((diagnosis) => diagnosis.sides.length > 0);
  const dates = sortedUnique(here.flatMap((diagnosis) => diagnosis.date ?? []));
  const remarks: string[] = [];
  if (!firm) remarks.push(`${definition.title}: ${words.diagnosisNotConfirmed}`);
  if (!sided) remarks.push(`${definition.title}: ${words.sideNotStated}`);
  return {
    id: definition.id,
    state: {
      status: 'present',
      value: {
        kind: 'recorded',
        texts: [firm ? definition.title : `${definition.title} ${words.unconfirmed}`],
      },
    },
    provenance: {
      from: sortedUnique(here.map((diagnosis) => diagnosis.from)),
      ...(dates[0] !== undefined && { date: dates[0] }),
    },
    remarks,
  };
}

function unknown(
  definition: ConditionDefinition,
  reason: UnknownReason,
  because: readonly Diagnosis[],
): Fact {
  const from = sortedUnique(because.map((diagnosis) => diagnosis.from));
  return unknownFact(definition.id, reason, { provenance: { from } });
}

import { sortedUnique } from '../base/order.js';
import { ICD_10_CM } from '../fhir/codings.js';
import type { Coding } from '../fhir/codings.js';
import type { Located } from '../fhir/references.js';
import { readCondition } from './condition-reader.js';
import type { ConditionDefinition, DataFinding, Hip } from './definitions.js';
import type { Diagnosis, DiagnosisContext, DiagnosisReading, DiagnosisSource } from './diagnosis.js';
import type { Fact, UnknownReason } from './fact.js';
import { absentFact, unknownFact } from './fact.js';
import type { Remarks } from './knowledge.js';
import { readPastProcedure } from './past-procedure.js';
import type { Note } from './readings.js';

export interface DiagnosisList {
  /** Diagnoses and earlier operations by the value sets their codes belong to. */
  readonly bySet: ReadonlyMap<string, readonly Diagnosis[]>;
  readonly notes: readonly Note[];
  readonly findings: readonly DataFinding[];
  /** Entries without any readable code: what they say stays unknown. */
  readonly unreadable: readonly { readonly from: string; readonly source: DiagnosisSource }[];
  /** Which of the two sets were not wholly read. */
  readonly setsMissing: readonly string[];
}

/** Reads problem list and earlier procedures once; each fact then looks into them. */
export function readDiagnoses(
  sources: Readonly<Record<DiagnosisSource, readonly Located[]>>,
  context: DiagnosisContext & { readonly setsMissing: readonly string[] },
): DiagnosisList {
  const readings = [
    ...sources.conditions.map((located) => ['conditions', readCondition(located, context)] as const),
    ...sources.procedures.map((located) => ['procedures', readPastProcedure(located, context)] as const),
  ];
  const all = readings.map(([, reading]) => reading);
  const diagnoses = all.flatMap((reading) => (reading.kind === 'diagnosis' ? [reading.diagnosis] : []));
  return {
    bySet: indexBySet(diagnoses),
    notes: all.flatMap(noteOf),
    findings: all.flatMap((reading) => (reading.kind === 'diagnosis' ? reading.findings : [])),
    unreadable: readings.flatMap(([source, reading]) =>
      reading.kind === 'unreadable' ? [{ from: reading.note.from, source }] : [],
    ),
    setsMissing: context.setsMissing,
  };
}

function noteOf(reading: DiagnosisReading): readonly Note[] {
  switch (reading.kind) {
    case 'nothing':
      return [];
    case 'rejected':
    case 'unreadable':
      return [reading.note];
    case 'diagnosis': {
      const { from, unusable } = reading.diagnosis;
      return unusable === undefined ? [] : [{ from, why: unusable }];
    }
  }
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

/** One diagnosis of one hip (or of the patient): present, absent from lists wholly read, or unknown and why. */
export function conditionFact(
  definition: ConditionDefinition,
  hip: Hip,
  list: DiagnosisList,
  remarks: Remarks,
): Fact {
  // Of most diagnoses nothing is recorded in any form: they need no second look.
  if (!isMentioned(definition, list)) return nothingMatched(definition, list);
  const matches = meaning(definition, list);
  const usable = matches.filter(
    (diagnosis) => diagnosis.unusable === undefined && isTimely(definition, diagnosis),
  );
  const here = usable.filter((diagnosis) => isHere(definition, diagnosis, hip));
  if (here.length > 0) return presentCondition(definition, here, remarks);
  if (definition.scope === 'hip' && hip === 'unknown' && usable.length > 0)
    return unknown(definition, 'side-unknown', usable);
  const doubtful = matches.filter(
    (diagnosis) =>
      diagnosis.unusable !== undefined && (hip === 'unknown' || isHere(definition, diagnosis, hip)),
  );
  if (doubtful.length > 0) return unknown(definition, 'refused', doubtful);
  const unclear = unclearMatches(definition, hip, list);
  if (unclear.length > 0) return unknown(definition, 'code-unclear', unclear);
  return nothingMatched(definition, list);
}

/** The usable entries that mean a condition of this hip, each with its own date. */
export function usableEntries(
  definition: ConditionDefinition,
  hip: Hip,
  list: DiagnosisList,
): readonly Diagnosis[] {
  return meaning(definition, list).filter(
    (diagnosis) =>
      diagnosis.unusable === undefined &&
      isTimely(definition, diagnosis) &&
      isHere(definition, diagnosis, hip),
  );
}

/** Whether any entry carries a code of any set the definition knows. */
function isMentioned(
  { valueSet, procedureValueSet, sitedValueSet, unclearValueSet }: ConditionDefinition,
  { bySet }: DiagnosisList,
): boolean {
  return (
    (valueSet !== undefined && bySet.has(valueSet)) ||
    (procedureValueSet !== undefined && bySet.has(procedureValueSet)) ||
    (sitedValueSet !== undefined && bySet.has(sitedValueSet)) ||
    (unclearValueSet !== undefined && bySet.has(unclearValueSet))
  );
}

/** Nothing found is "not there" only in lists that were wholly read and whose every entry has a code. */
function nothingMatched(definition: ConditionDefinition, list: DiagnosisList): Fact {
  if (list.setsMissing.length === 0 && list.unreadable.length === 0) return absentFact(definition.id);
  const sources: readonly string[] = sourcesOf(definition);
  const setsMissing = list.setsMissing.filter((set) => sources.includes(set));
  if (setsMissing.length > 0) return unknownFact(definition.id, 'set-not-read', { setsMissing });
  const from = list.unreadable.filter(({ source }) => sources.includes(source)).map((entry) => entry.from);
  return from.length > 0
    ? unknownFact(definition.id, 'refused', { provenance: { from: sortedUnique(from) } })
    : absentFact(definition.id);
}

/** The sets in which a definition looks. */
function sourcesOf({ valueSet, procedureValueSet }: ConditionDefinition): readonly DiagnosisSource[] {
  return [
    ...(valueSet === undefined ? [] : (['conditions'] as const)),
    ...(procedureValueSet === undefined ? [] : (['procedures'] as const)),
  ];
}

/** Everything recorded that means this: by its own codes, or by a code without a place, at a hip. */
function meaning(definition: ConditionDefinition, list: DiagnosisList): readonly Diagnosis[] {
  const { valueSet, procedureValueSet, sitedValueSet } = definition;
  return [
    ...coded(definition, valueSet, list).filter(({ source }) => source === 'conditions'),
    ...coded(definition, procedureValueSet, list).filter(({ source }) => source === 'procedures'),
    ...coded(definition, sitedValueSet, list).filter(({ atHip }) => atHip),
  ];
}

/** What may mean this and may mean something else: codes too vague, and codes without a place not known to be a hip. */
function unclearMatches(
  definition: ConditionDefinition,
  hip: Hip,
  list: DiagnosisList,
): readonly Diagnosis[] {
  const vague = [
    ...coded(definition, definition.unclearValueSet, list),
    ...coded(definition, definition.sitedValueSet, list).filter(({ atHip }) => !atHip),
  ];
  return vague.filter(
    (diagnosis) =>
      isTimely(definition, diagnosis) && (hip === 'unknown' || isHere(definition, diagnosis, hip)),
  );
}

/** Entries of the sets a definition looks in that carry a code of the value set. */
function coded(
  definition: ConditionDefinition,
  valueSet: string | undefined,
  list: DiagnosisList,
): readonly Diagnosis[] {
  if (valueSet === undefined) return [];
  const sources = sourcesOf(definition);
  return (list.bySet.get(valueSet) ?? []).filter(
    ({ codings, source }) =>
      sources.includes(source) &&
      codings.some(({ coding, sets }) => sets.has(valueSet) && isRightPhase(definition, coding)),
  );
}

/** ICD-10-CM injuries: the seventh character tells a fresh fracture from its healing, nonunion or late effect. */
function isRightPhase(definition: ConditionDefinition, coding: Coding): boolean {
  if (!definition.seventhCharacters || coding.system !== ICD_10_CM) return true;
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
      ...(dates.length > 1 && { lastDate: dates.at(-1) ?? '' }),
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

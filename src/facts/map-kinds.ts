import { ICD_10_CM, SNOMED_CT, readCoding } from '../fhir/codings.js';
import type { Coding, SystemAliases } from '../fhir/codings.js';
import type { FactDefinition, MeasureDefinition } from './definitions.js';
import type { FactKnowledge } from './knowledge.js';

/** What the target of a site's map can stand for. An operation also names a visit; some codes name a visit only. */
export type MapKind =
  | { readonly kind: 'measure'; readonly definition: MeasureDefinition }
  | { readonly kind: 'component' | 'value' | 'side' | 'operation' | 'visit' | 'condition' };

/** The code systems a map may lead to. */
export function targetSystems({ systems }: FactKnowledge): readonly string[] {
  return [systems.measure, systems.measureValue, systems.diagnosis, SNOMED_CT, ICD_10_CM];
}

/** What a target is to the readers of a record; undefined when none has a use for it. */
export function kindOf(target: Required<Coding>, knowledge: FactKnowledge): MapKind | undefined {
  const { definitions, systems, laterality, qualifiers } = knowledge;
  if (target.system === systems.measure) {
    const definition = definitions.filter(isMeasure).find(({ id }) => id === target.code);
    if (definition) return { kind: 'measure', definition };
    return qualifiers.has(target.code) ? { kind: 'component' } : undefined;
  }
  if (target.system === systems.measureValue)
    return valuesOf(knowledge).has(target.code) ? { kind: 'value' } : undefined;
  const isSide = laterality.sides.has(target.code) || laterality.sidedSites.has(target.code);
  if (target.system === SNOMED_CT && isSide) return { kind: 'side' };
  return kindOfSets(knowledge.valueSets.setsOf(target), knowledge);
}

function kindOfSets(sets: ReadonlySet<string>, knowledge: FactKnowledge): MapKind | undefined {
  const ids = [...sets];
  if (ids.some((id) => knowledge.operations.has(id))) return { kind: 'operation' };
  if (ids.some((id) => knowledge.appointmentOperations.has(id))) return { kind: 'visit' };
  const diagnoses = knowledge.definitions.flatMap((fact) =>
    fact.kind === 'condition' ? [fact.valueSet, fact.unclearValueSet] : [],
  );
  return ids.some((id) => diagnoses.includes(id)) ? { kind: 'condition' } : undefined;
}

export function isMeasure(fact: FactDefinition): fact is MeasureDefinition {
  return fact.kind === 'measure';
}

function valuesOf({ definitions, qualifiers }: FactKnowledge): ReadonlySet<string> {
  const ofMeasures = definitions.filter(isMeasure).flatMap(({ values }) => values ?? []);
  const ofQualifiers = [...qualifiers.values()].flatMap((values) => (values === 'boolean' ? [] : values));
  return new Set([...ofMeasures, ...ofQualifiers]);
}

/** Codes whose meaning the rulebook gives: no site may give them another. */
export function isRulebookCode(source: Required<Coding>, knowledge: FactKnowledge): boolean {
  const { systems, laterality, valueSets } = knowledge;
  const own = [systems.measure, systems.measureValue, systems.stage, systems.group.split('|')[0]];
  if (own.includes(source.system) || valueSets.setsOf(source).size > 0) return true;
  const { sides, sidedSites, sidedCodes, hipSites } = laterality;
  const known = [sides, sidedSites, sidedCodes, hipSites].some((codes) => codes.has(source.code));
  return source.system === SNOMED_CT && known;
}

/** A diagnosis by its code system: no visit or order is an operation because of one. */
export function isDiagnosis({ system }: Required<Coding>): boolean {
  return system === ICD_10_CM;
}

/** A coding of a map in the form in which codes are compared. */
export function mapCoding(system: string, code: string, aliases: SystemAliases): Required<Coding> {
  const read = readCoding({ system, code }, aliases);
  return { system: read.system ?? '', code: read.code ?? '' };
}

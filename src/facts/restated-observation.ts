import { SNOMED_CT } from '../fhir/codings.js';
import { objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import type { Located } from '../fhir/references.js';
import type { Side, Stage } from './definitions.js';
import type { FactKnowledge } from './knowledge.js';

/** A measure stated by another carrier than Observation. */
export interface Statement {
  /** The carrier, by whose name the value will be known. */
  readonly from: string;
  /** The carrier itself: whom it is about and what it belongs to are taken over. */
  readonly carrier: JsonObject;
  readonly measure: string;
  readonly stage: Stage;
  readonly sides: readonly Side[];
  readonly date: string | undefined;
  /** The `value[x]` member, in the form Observation has. */
  readonly value: JsonObject;
  /** Every statement of a qualifier: two that differ are refused where the value is read. */
  readonly qualifiers: readonly (readonly [name: string, code: string])[];
}

/**
 * Restates a measure as the Observation that would say the same, so that one reader decides what counts, whatever
 * carried it: value, unit, limits, side and stage are all judged there.
 */
export function restated(statement: Statement, knowledge: FactKnowledge): Located {
  const { systems } = knowledge;
  const { carrier, qualifiers } = statement;
  const [groupSystem = '', groupCode = ''] = systems.group.split('|');
  const group = carrier['requisition'] ?? carrier['groupIdentifier'];
  const resource: JsonObject = {
    resourceType: 'Observation',
    status: statement.stage === 'planned' ? 'preliminary' : 'final',
    category: [concept(systems.stage, statement.stage), concept(groupSystem, groupCode)],
    code: concept(systems.measure, statement.measure),
    subject: carrier['subject'] ?? carrier['patient'] ?? {},
    bodySite: sitesOf(statement.sides, knowledge),
    ...(carrier['basedOn'] !== undefined && { basedOn: carrier['basedOn'] }),
    ...(carrier['encounter'] !== undefined && { encounter: carrier['encounter'] }),
    ...(group !== undefined && { groupIdentifier: group }),
    ...(statement.date !== undefined && { effectiveDateTime: statement.date }),
    ...statement.value,
    component: qualifiers.map(([name, code]) => ({
      code: concept(systems.measure, name),
      valueCodeableConcept: concept(systems.measureValue, code),
    })),
  };
  return { resource, fullUrl: statement.from };
}

function concept(system: string, code: string): JsonObject {
  return { coding: [{ system, code }] };
}

/** The body sites by which our laterality table knows the sides. */
function sitesOf(sides: readonly Side[], knowledge: FactKnowledge): readonly JsonObject[] {
  const sites = [...knowledge.laterality.sidedSites];
  return sides.flatMap((side) => {
    const code = sites.find(([, stated]) => stated === side)?.[0];
    return code === undefined ? [] : [concept(SNOMED_CT, code)];
  });
}

/** The `value[x]` members of a resource part, as they stand. */
export function valueMembers(part: JsonObject): JsonObject {
  return Object.fromEntries(Object.entries(part).filter(([name]) => name.startsWith('value')));
}

/** The components that qualify a cup angle: its definition and the plane it refers to. */
export const ANGLE_QUALIFIERS = ['angle-definition', 'reference-plane'] as const;

/** Codes of our value system in a list of codings. */
export function ownValueCodes(codings: unknown, knowledge: FactKnowledge): readonly string[] {
  return objectsIn(codings).flatMap(({ system, code }) =>
    system === knowledge.systems.measureValue && typeof code === 'string' ? [code] : [],
  );
}

import { readFhirDate } from '../base/dates.js';
import { compareText } from '../base/order.js';
import { hasUnknownModifier } from '../fhir/codings.js';
import { asObject, asText, objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { nameOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import type { MeasureDefinition, Side } from './definitions.js';
import type { PlanContext, Restated } from './device-request-plan.js';
import { sideFromCodes } from './hip-side.js';
import { tiedOrders } from './plan-linkage.js';
import type { Note } from './readings.js';
import { tiesOf } from './recognition.js';
import { ANGLE_QUALIFIERS, ownValueCodes, restated } from './restated-observation.js';

/** Canonical of the plan questionnaire, without version. */
export const HIP_PLAN_QUESTIONNAIRE = 'https://kotyle.example/fhir/Questionnaire/hip-plan';

const COMPLETE: ReadonlySet<unknown> = new Set(['completed', 'amended']);

/** Answers about one hip of one response. */
interface HipAnswers {
  readonly located: Located;
  readonly sides: readonly Side[];
  readonly items: readonly JsonObject[];
}

/**
 * The plans that answered questionnaires state: completed or amended ones only, the newest of each side; each answer
 * restated as a planned Observation.
 */
export function hipPlanAnswers(responses: readonly Located[], context: PlanContext): Restated {
  const notes: Note[] = [];
  const complete = responses
    .filter(({ resource }) => isHipPlan(resource))
    .filter((located) => {
      const why = unusable(located.resource);
      if (why !== undefined) notes.push({ from: nameOf(located), why });
      return why === undefined;
    });
  const groups = complete.flatMap((located) => hipGroups(located, context, notes));
  const current = newestPerSide(groups, context, notes);
  const observations = current.flatMap((group) => restateGroup(group, context, notes));
  return { observations, inferredSides: new Set(), notes };
}

/** Responses whose values an Observation may merely repeat. */
export function isHipPlan(resource: JsonObject): boolean {
  const canonical = asText(resource['questionnaire'])?.split('|')[0];
  return resource['resourceType'] === 'QuestionnaireResponse' && canonical === HIP_PLAN_QUESTIONNAIRE;
}

function unusable(resource: JsonObject): string | undefined {
  if (hasUnknownModifier(resource)) return 'carries a modifier this service does not know';
  if (resource['status'] === 'in-progress') return 'an unfinished plan exists';
  const { status } = resource;
  if (status === 'entered-in-error' || status === 'stopped') return `plan ${status}`;
  return COMPLETE.has(status) ? undefined : 'plan of unknown status';
}

function hipGroups(located: Located, { knowledge }: PlanContext, notes: Note[]): readonly HipAnswers[] {
  const groups = objectsIn(located.resource['item']).filter((item) => item['linkId'] === 'hip');
  return groups.map((group) => {
    const items = objectsIn(group['item']);
    const codes = ownValueCodes(
      answersOf(items, 'hip.side').map((answer) => answer['valueCoding']),
      knowledge,
    );
    const side = sideFromCodes(codes);
    if (side.kind !== 'sides') notes.push({ from: nameOf(located), why: 'plan without a readable hip.side' });
    return { located, items, sides: side.kind === 'sides' ? side.sides : [] };
  });
}

function answersOf(items: readonly JsonObject[], linkId: string): readonly JsonObject[] {
  return items.filter((item) => item['linkId'] === linkId).flatMap((item) => objectsIn(item['answer']));
}

/**
 * A newer response replaces an older one of the same side; of two with one date neither is the newer. One whose order
 * is no longer open replaces none: it plans nothing any more.
 */
function newestPerSide(
  groups: readonly HipAnswers[],
  { requests, fhirServer }: PlanContext,
  notes: Note[],
): readonly HipAnswers[] {
  const isOver = ({ located, sides }: HipAnswers): boolean => {
    const tied = tiedOrders({ ties: tiesOf(located.resource, fhirServer), sides }, requests);
    return tied.length > 0 && tied.every(({ open }) => !open);
  };
  const live = groups.filter((group) => !isOver(group));
  const newest = new Map<Side, number>();
  for (const group of live) {
    for (const side of group.sides)
      newest.set(side, Math.max(newest.get(side) ?? -Infinity, authoredFrom(group)));
  }
  const isOutdone = (group: HipAnswers): boolean =>
    group.sides.some((side) => (newest.get(side) ?? -Infinity) > authoredFrom(group));
  return groups
    .filter((group) => {
      const outdone = isOutdone(group);
      if (outdone) notes.push({ from: nameOf(group.located), why: 'superseded by a newer plan' });
      return !outdone;
    })
    .sort((a, b) => compareText(nameOf(a.located), nameOf(b.located)));
}

function authoredFrom({ located }: HipAnswers): number {
  return readFhirDate(asText(located.resource['authored']))?.from ?? -Infinity;
}

function restateGroup(group: HipAnswers, context: PlanContext, notes: Note[]): readonly Located[] {
  const { located, items, sides } = group;
  const from = nameOf(located);
  return items.flatMap((item) => {
    const linkId = asText(item['linkId']) ?? '';
    if (linkId.startsWith('hip.')) return [];
    const definition = context.measures.get(linkId);
    if (!definition?.stages.includes('planned')) {
      notes.push({ from, why: 'an answer to a question this plan does not ask' });
      return [];
    }
    return objectsIn(item['answer']).map((answer) =>
      restated(
        {
          from,
          carrier: located.resource,
          measure: linkId,
          stage: 'planned',
          sides,
          date: asText(located.resource['authored']),
          value: answerValue(answer),
          qualifiers: qualifiersOf(definition, items, context),
        },
        context.knowledge,
      ),
    );
  });
}

/** An answered coding is what Observation calls a CodeableConcept; every other kind has the same name in both. */
function answerValue(answer: JsonObject): JsonObject {
  const members = Object.entries(answer).filter(([name]) => name.startsWith('value'));
  return Object.fromEntries(
    members.map(([name, value]) =>
      name === 'valueCoding' ? ['valueCodeableConcept', { coding: [asObject(value) ?? {}] }] : [name, value],
    ),
  );
}

/** Definition and plane are asked once for a hip and hold for each of its cup angles. */
function qualifiersOf(
  definition: MeasureDefinition,
  items: readonly JsonObject[],
  { knowledge }: PlanContext,
): readonly (readonly [string, string])[] {
  return ANGLE_QUALIFIERS.filter((name) => definition.components.includes(name)).flatMap((name) => {
    const answers = answersOf(items, `hip.${name}`).map((answer) => answer['valueCoding']);
    return [...new Set(ownValueCodes(answers, knowledge))].map((code) => [name, code] as const);
  });
}

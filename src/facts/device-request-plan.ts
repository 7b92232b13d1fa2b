import { codesIn, hasUnknownModifier } from '../fhir/codings.js';
import { asText, objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { nameOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import type { MeasureDefinition, Side } from './definitions.js';
import { HIP_SIDE, statedHipSide } from './hip-side.js';
import type { FactKnowledge } from './knowledge.js';
import type { Note } from './readings.js';
import { tiesOf } from './recognition.js';
import type { RequestReading } from './recognition.js';
import { implantSide, requestsNamed } from './requests.js';
import { ANGLE_QUALIFIERS, restated, valueMembers } from './restated-observation.js';

/** What a carrier restated, and what of it could not be used. */
export interface Restated {
  readonly observations: readonly Located[];
  /** Names of carriers whose side is an inference. */
  readonly inferredSides: ReadonlySet<string>;
  readonly notes: readonly Note[];
}

export interface PlanContext {
  readonly knowledge: FactKnowledge;
  readonly measures: ReadonlyMap<string, MeasureDefinition>;
  readonly requests: readonly RequestReading[];
  /** Orders that came together in the context of the call. */
  readonly atHand: readonly RequestReading[];
  /** Names of the requests for implants among what is being signed. */
  readonly drafted: ReadonlySet<string>;
  readonly fhirServer: string | undefined;
}

const OVER: ReadonlySet<unknown> = new Set([
  'revoked',
  'completed',
  'entered-in-error',
  'cancelled',
  'unknown',
]);

/** The geometry that requests for implants plan, each parameter restated as a planned Observation. */
export function deviceRequestPlan(requests: readonly Located[], context: PlanContext): Restated {
  const observations: Located[] = [];
  const notes: Note[] = [];
  const inferred = new Set<string>();
  for (const located of requests) {
    const parameters = ownParameters(located.resource, context);
    if (parameters.length === 0) continue;
    const from = nameOf(located);
    const why = unusable(located.resource);
    if (why !== undefined) {
      notes.push({ from, why });
      continue;
    }
    const place = placeOf(located, context);
    if (place.inferred) inferred.add(from);
    for (const { measure, parameter } of parameters) {
      const definition = context.measures.get(measure);
      if (!definition?.carriers.includes('order')) {
        notes.push({ from, why: `${measure}: not a measure that a device request carries` });
        continue;
      }
      observations.push(
        restated(
          {
            from,
            carrier: located.resource,
            measure,
            stage: 'planned',
            sides: place.sides,
            date: asText(located.resource['authoredOn']),
            value: valueMembers(parameter),
            qualifiers: qualifiersOf(definition),
          },
          context.knowledge,
        ),
      );
    }
  }
  return { observations, inferredSides: inferred, notes };
}

interface OwnParameter {
  readonly measure: string;
  readonly parameter: JsonObject;
}

function ownParameters(resource: JsonObject, { knowledge }: PlanContext): readonly OwnParameter[] {
  if (resource['resourceType'] !== 'DeviceRequest') return [];
  return objectsIn(resource['parameter']).flatMap((parameter) =>
    codesIn(parameter['code'], knowledge.systems.measure, knowledge.aliases)
      .filter((measure) => measure !== HIP_SIDE)
      .map((measure) => ({ measure, parameter })),
  );
}

function unusable(resource: JsonObject): string | undefined {
  if (hasUnknownModifier(resource)) return 'carries a modifier this service does not know';
  if (OVER.has(resource['status'])) return `device request ${String(resource['status'])}`;
  return resource['intent'] === 'option' ? 'device request is only an option' : undefined;
}

/** The side was found while the orders were read; a request whose code nobody knows is no order, and asks here. */
function placeOf(
  located: Located,
  { requests, atHand, drafted, knowledge, fhirServer }: PlanContext,
): { readonly sides: readonly Side[]; readonly inferred: boolean } {
  const name = nameOf(located);
  const { parameter } = located.resource;
  const known = requestsNamed(requests, name).find(({ operation }) => operation.name === name)?.operation;
  const own = {
    side: statedHipSide(parameter, 'code', knowledge),
    ties: tiesOf(located.resource, fhirServer),
  };
  const { side, sideFrom } = known ?? implantSide(own, drafted.has(name) ? atHand : [], requests);
  return { sides: side.kind === 'sides' ? side.sides : [], inferred: sideFrom === 'inherited' };
}

/** A device request states its cup angles radiographic, against the anterior pelvic plane: it has no way to say otherwise. */
function qualifiersOf(definition: MeasureDefinition): readonly (readonly [string, string])[] {
  const qualifies = ANGLE_QUALIFIERS.every((name) => definition.components.includes(name));
  if (!qualifies) return [];
  return [
    ['angle-definition', 'radiographic'],
    ['reference-plane', 'app'],
  ];
}

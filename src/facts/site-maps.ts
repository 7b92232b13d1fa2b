import { codesIn } from '../fhir/codings.js';
import { asObject } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { inConcept } from './map-components.js';
import { codesFrom, inList, inMember, visitCodes } from './map-concepts.js';
import type { Change, Place } from './map-concepts.js';
import { mapObservation } from './map-observation.js';
import { mapValue } from './map-quantity.js';
import { lookUp, matchesIn, withCodings } from './site-map-index.js';
import type { MeasureEntry, SiteMaps } from './site-map-index.js';
import { inSteps, mappedCode, unchanged } from './site-translation.js';
import type { Step, Translated } from './site-translation.js';

const operations = codesFrom((maps) => maps.operations);
const sides = codesFrom((maps) => maps.sides);

const requestSteps: readonly Step[] = [
  inMember('code', operations),
  inMember('bodySite', sides),
  inMember('orderDetail', sides),
];

/** Where local codes may stand, by type of resource. */
const STEPS: ReadonlyMap<unknown, readonly Step[]> = new Map([
  ['ServiceRequest', requestSteps],
  ['DeviceRequest', [inMember('codeCodeableConcept', operations), inMember('parameter', parameter)]],
  ['Procedure', [inMember('code', operations), inMember('bodySite', sides)]],
  [
    'Condition',
    [
      inMember(
        'code',
        codesFrom((maps) => maps.conditions),
      ),
      inMember('bodySite', sides),
    ],
  ],
  // Reasons first: a type may count only together with one.
  [
    'Appointment',
    [
      inMember('reasonCode', visitCodes),
      inMember('serviceType', visitCodes),
      inMember('appointmentType', visitCodes),
      // The order a visit is based on may have come inside it.
      inMember('contained', (inner, { maps }) => {
        const done = inner['resourceType'] === 'ServiceRequest' && inSteps(inner, maps, requestSteps);
        return done ? { value: done.resource, mapped: done.mapped } : undefined;
      }),
    ],
  ],
  ['Observation', [mapObservation]],
  ['QuestionnaireResponse', [inMember('item', (item, place) => mapItem(item, place, 0))]],
] satisfies readonly (readonly [string, readonly Step[]])[]);

/**
 * Translates a site's local codes at the entrance: a resource that carries one gets the coding, stage, side,
 * components, unit and direction our readers know, so that everything behind stays one path. Nothing is taken away;
 * a value whose unit or sign changes is kept as found. The very same object comes back when nothing matches.
 */
export function translate(resource: JsonObject, maps: SiteMaps): Translated {
  return translated(resource, maps) ?? unchanged(resource);
}

/** The same, undefined when nothing matches. */
export function translated(resource: JsonObject, maps: SiteMaps): Translated | undefined {
  const steps = STEPS.get(resource['resourceType']);
  return steps && inSteps(resource, maps, steps);
}

/** What an implant order's parameter always means (its cup angles are radiographic, in the anterior pelvic plane). */
const OF_A_PARAMETER: ReadonlyMap<string, string> = new Map([
  ['angle-definition', 'radiographic'],
  ['reference-plane', 'app'],
]);

/**
 * A parameter of an implant order: it can hold a measure and a coded answer, but no qualifier, and nowhere to keep a
 * value as found: one whose unit or sign would change stays a local code.
 */
function parameter(given: JsonObject, place: Place): Change | undefined {
  const { maps } = place;
  const { aliases, systems } = maps.knowledge;
  const code = asObject(given['code']);
  const isOurs = codesIn(code, systems.measure, aliases).length > 0;
  const [entry, second] = isOurs ? [] : matchesIn(code, maps.measures, aliases);
  const fits = entry && !second && fitsParameter(entry) && !mapValue(given, entry.fixed);
  const measured = code && fits ? withMeasure(given, code, entry, place) : undefined;
  if (!isOurs && !measured) return undefined;
  const answered = inConcept(measured?.value ?? given, 'valueCodeableConcept', ({ values }) => values, place);
  if (!answered) return measured;
  return { value: answered.value, mapped: [...(measured?.mapped ?? []), ...answered.mapped] };
}

function fitsParameter({ fixed }: MeasureEntry): boolean {
  const { stage, side, components } = fixed;
  if (side !== undefined || (stage !== undefined && stage !== 'planned')) return false;
  return Object.entries(components).every(([name, value]) => OF_A_PARAMETER.get(name) === value);
}

function withMeasure(given: JsonObject, code: JsonObject, entry: MeasureEntry, place: Place): Change {
  return {
    value: { ...given, code: withCodings(code, [entry.target], place.maps.knowledge.aliases) },
    mapped: [mappedCode(`${place.element}.code`, entry)],
  };
}

/** Questionnaires nest; nobody's plan does so deeper than this, and the stack must not depend on outside data. */
const DEEPEST_ITEM = 20;

function mapItem(item: JsonObject, place: Place, depth: number): Change | undefined {
  const inAnswer = (answer: JsonObject, inner: Place): Change | undefined => {
    const coded = mapAnswer(answer, inner);
    const nested = mapNested(coded?.value ?? answer, inner, depth);
    return nested ? { ...nested, mapped: [...(coded?.mapped ?? []), ...nested.mapped] } : coded;
  };
  const answers = Array.isArray(item['answer'])
    ? inList(item['answer'], { ...place, element: `${place.element}.answer` }, inAnswer)
    : undefined;
  const answered = answers ? { ...item, answer: answers.items } : item;
  const nested = mapNested(answered, place, depth);
  if (!answers) return nested;
  return { value: nested?.value ?? answered, mapped: [...answers.mapped, ...(nested?.mapped ?? [])] };
}

function mapNested(holder: JsonObject, place: Place, depth: number): Change | undefined {
  const items = holder['item'];
  if (!Array.isArray(items) || depth >= DEEPEST_ITEM) return undefined;
  const inner = { ...place, element: `${place.element}.item` };
  const list = inList(items, inner, (item, where) => mapItem(item, where, depth + 1));
  return list && { value: { ...holder, item: list.items }, mapped: list.mapped };
}

/** An answer has one coding, not a list: it is put in our words, and `mapped` says which it was. */
function mapAnswer(answer: JsonObject, { element, maps }: Place): Change | undefined {
  const given = asObject(answer['valueCoding']);
  const entry = given && lookUp(given, maps.values, maps.knowledge.aliases);
  if (!given || !entry) return undefined;
  const { system, code } = entry.target;
  return {
    value: { ...answer, valueCoding: { ...given, system, code } },
    mapped: [mappedCode(`${element}.valueCoding`, entry)],
  };
}

import { compareText } from '../base/order.js';
import { codesIn, codingsOf, SNOMED_CT } from '../fhir/codings.js';
import type { Coding } from '../fhir/codings.js';
import { asText, objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import type { FactKnowledge } from './knowledge.js';
import { measureDefinitions } from './measure-definitions.js';

/** Stands for a code that is words. */
const IN_WORDS = '(words)';

/** A coding that nothing here knows: where it stood, and in how many resources. Never a text or a display. */
export interface UnmappedCoding {
  readonly resourceType: string;
  readonly element: string;
  /** `-` when none was given. */
  readonly system: string;
  readonly code: string;
  readonly count: number;
}

interface Read {
  readonly element: string;
  readonly codings: readonly Coding[];
}

/** The elements by which a resource says what it is; one known coding among them is enough. */
const SUBJECTS: Readonly<Record<string, readonly string[]>> = {
  ServiceRequest: ['code'],
  DeviceRequest: ['codeCodeableConcept'],
  Procedure: ['code'],
  Appointment: ['serviceType', 'appointmentType', 'reasonCode'],
  Condition: ['code'],
  Observation: ['code'],
  Device: ['type'],
};

/**
 * The codings of resources that nothing here knows, in the elements that are read: what a site's maps are still
 * missing. Give it the resources after translation. Codes come from outside and are cut short, because what some
 * systems send as a code is free text.
 */
export function unmappedCodings(
  resources: readonly JsonObject[],
  knowledge: FactKnowledge,
): readonly UnmappedCoding[] {
  const counts = new Map<string, UnmappedCoding>();
  for (const resource of resources) {
    const seen = new Set<string>();
    for (const { resourceType, element, system, code } of unmappedIn(resource, knowledge)) {
      // Only the type, which stands first, can hold the sign that parts them.
      const key = `${resourceType}\u0000${element}\u0000${system}\u0000${code}`;
      if (seen.has(key)) continue;
      seen.add(key);
      counts.set(key, { resourceType, element, system, code, count: (counts.get(key)?.count ?? 0) + 1 });
    }
  }
  return [...counts.values()].sort(
    (a, b) =>
      compareText(a.resourceType, b.resourceType) ||
      compareText(a.element, b.element) ||
      compareText(a.system, b.system) ||
      compareText(a.code, b.code),
  );
}

function unmappedIn(
  resource: JsonObject,
  knowledge: FactKnowledge,
): readonly Omit<UnmappedCoding, 'count'>[] {
  const resourceType = asText(resource['resourceType']) ?? '';
  const subjects = subjectsOf(resource, resourceType, knowledge);
  // A known diagnosis among the reasons of a visit does not say what the visit is.
  const says = resourceType === 'Appointment' ? isOperation : knows;
  const isSaid = subjects.some(({ codings }) => codings.some((coding) => says(coding, knowledge)));
  const found: Omit<UnmappedCoding, 'count'>[] = [];
  const add = ({ element, codings }: Read): void => {
    for (const { system = '-', code } of codings)
      if (code !== undefined) found.push({ resourceType, element, system: plain(system), code: plain(code) });
  };
  if (isSaid) sitesOf(resource, knowledge).forEach(add);
  else
    for (const { element, codings } of subjects)
      add({ element, codings: codings.filter((each) => !knows(each, knowledge)) });
  answersOf(resource, resourceType, knowledge).forEach(add);
  return found;
}

function subjectsOf(resource: JsonObject, type: string, { aliases }: FactKnowledge): readonly Read[] {
  const elements = Object.hasOwn(SUBJECTS, type) ? (SUBJECTS[type] ?? []) : [];
  return elements.map((element) => ({
    element,
    codings: conceptsOf(resource[element]).flatMap((concept) => codingsOf(concept, aliases)),
  }));
}

function conceptsOf(value: unknown): readonly unknown[] {
  return Array.isArray(value) ? objectsIn(value) : [value];
}

/** A code of a value set, or one of our measures. */
function knows(coding: Coding, knowledge: FactKnowledge): boolean {
  if (coding.system === knowledge.systems.measure) return true;
  return knowledge.valueSets.setsOf(coding).size > 0;
}

function isOperation(
  coding: Coding,
  { valueSets, operations, appointmentOperations }: FactKnowledge,
): boolean {
  return [...valueSets.setsOf(coding)].some((id) => operations.has(id) || appointmentOperations.has(id));
}

/** Body sites of what is ours, when no coding of the site says anything about a hip or a side. */
function sitesOf(resource: JsonObject, { aliases, laterality }: FactKnowledge): readonly Read[] {
  const known = ({ system, code = '' }: Coding): boolean =>
    system === SNOMED_CT &&
    (laterality.sides.has(code) || laterality.sidedSites.has(code) || laterality.hipSites.has(code));
  return conceptsOf(resource['bodySite'])
    .map((site) => codingsOf(site, aliases))
    .filter((codings) => !codings.some(known))
    .map((codings) => ({ element: 'bodySite', codings }));
}

/** Coded answers of our measures and their qualifiers, and parameters of implant orders. */
function answersOf(resource: JsonObject, type: string, knowledge: FactKnowledge): readonly Read[] {
  switch (type) {
    case 'Observation':
      return isMeasure(resource['code'], knowledge)
        ? [
            answerIn(resource, 'valueCodeableConcept', knowledge),
            ...objectsIn(resource['component']).flatMap((component) => componentReads(component, knowledge)),
          ].filter(isUnanswered(knowledge))
        : [];
    case 'DeviceRequest':
      return objectsIn(resource['parameter']).flatMap((parameter) =>
        isMeasure(parameter['code'], knowledge)
          ? [answerIn(parameter, 'valueCodeableConcept', knowledge, 'parameter.')].filter(
              isUnanswered(knowledge),
            )
          : [{ element: 'parameter.code', codings: codingsOf(parameter['code'], knowledge.aliases) }],
      );
    case 'QuestionnaireResponse':
      return itemReads(resource, knowledge, 0);
    default:
      return [];
  }
}

/** The stack must not depend on how deeply outside data nests. */
const DEEPEST_ITEM = 20;

function itemReads(holder: JsonObject, knowledge: FactKnowledge, depth: number): readonly Read[] {
  if (depth > DEEPEST_ITEM) return [];
  const measures = measureDefinitions(knowledge.definitions);
  return objectsIn(holder['item']).flatMap((item) => {
    const answers = objectsIn(item['answer']);
    const isOurs = measures.has(asText(item['linkId']) ?? '');
    const own = isOurs
      ? answers.map(({ valueCoding }) => ({
          element: 'item.answer.valueCoding',
          codings: codingsOf({ coding: [valueCoding] }, knowledge.aliases),
        }))
      : [];
    const nested = [item, ...answers].flatMap((inner) => itemReads(inner, knowledge, depth + 1));
    return [...own.filter(isUnanswered(knowledge)), ...nested];
  });
}

function isMeasure(concept: unknown, { systems, aliases }: FactKnowledge): boolean {
  return codesIn(concept, systems.measure, aliases).length > 0;
}

function componentReads(component: JsonObject, knowledge: FactKnowledge): readonly Read[] {
  return isMeasure(component['code'], knowledge)
    ? [answerIn(component, 'valueCodeableConcept', knowledge, 'component.')]
    : [{ element: 'component.code', codings: codingsOf(component['code'], knowledge.aliases) }];
}

function answerIn(holder: JsonObject, member: string, { aliases }: FactKnowledge, under = ''): Read {
  return { element: `${under}${member}`, codings: codingsOf(holder[member], aliases) };
}

function isUnanswered({ systems }: FactKnowledge): (read: Read) => boolean {
  return ({ codings }) => !codings.some(({ system }) => system === systems.measureValue);
}

const LONGEST = 64;
/** Already short and visible, as nearly all codes are. */
const SHORT_ASCII = /^[ -~]{0,64}$/;

/** Nothing but letters, digits and what stands between them in codes and addresses: needs no second look. */
const NO_BLANK = /^[!-~]{0,64}$/;

/** Shortened, and free of anything that is no visible character or blank. */
function plain(text: string): string {
  if (NO_BLANK.test(text)) return text;
  // No code has a blank inside: that is somebody's words, and may be a name.
  if (/\s/.test(text.trim())) return IN_WORDS;
  if (SHORT_ASCII.test(text)) return text;
  const visible = text.replaceAll(/[\p{C}\p{Zl}\p{Zp}]/gu, '·');
  const characters = Array.from(visible);
  return characters.length > LONGEST ? `${characters.slice(0, LONGEST - 1).join('')}…` : visible;
}

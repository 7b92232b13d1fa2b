import { readFileSync } from 'node:fs';

/** One element of a logical model, with the FHIR tools extensions that say how it looks in JSON. */
export interface ModelElement {
  readonly path: string;
  readonly jsonName: string;
  readonly min: number;
  readonly many: boolean;
  readonly type: string;
  /** Codes of the required binding; undefined when there is none. */
  readonly codes?: readonly string[] | undefined;
  /** The JSON form is an object whose member names are the values of this child (json-property-key). */
  readonly keyedBy?: string | undefined;
  readonly nullable: boolean;
  /** Prefix that the FHIR type has and the JSON leaves out (implied-string-prefix). */
  readonly impliedPrefix: string;
  /** Path of the element whose children this one reuses. */
  readonly childrenOf: string;
}

interface Extension {
  readonly url: string;
  readonly valueCode?: string;
  readonly valueString?: string;
  readonly valueBoolean?: boolean;
}

interface PublishedElement {
  readonly path: string;
  readonly min?: number;
  readonly max?: string;
  readonly type?: readonly { readonly code: string }[];
  readonly contentReference?: string;
  readonly binding?: { readonly strength: string; readonly valueSet: string };
  readonly extension?: readonly Extension[];
}

const published = new URL('../published/cds-hooks/', import.meta.url);
const lastSegment = (url: string) => url.slice(url.lastIndexOf('/') + 1);

export function readPublished(path: string): string {
  return readFileSync(new URL(path, published), 'utf8');
}

/** The codes of one published code system; each CDS Hooks value set is the whole code system of the same name. */
export function publishedCodes(name: string): string[] {
  const xml = readPublished(`logical-models/codesystem-${name}.xml`);
  return [...xml.matchAll(/<concept>\s*<code value="([^"]+)"/g)].map((match) => match[1] ?? '');
}

function toModelElement(element: PublishedElement): ModelElement {
  const extension = (name: string) => element.extension?.find((each) => lastSegment(each.url) === name);
  const required = element.binding?.strength === 'required' ? element.binding.valueSet : undefined;
  return {
    path: element.path,
    jsonName: extension('json-name')?.valueString ?? element.path.slice(element.path.lastIndexOf('.') + 1),
    min: element.min ?? 0,
    many: element.max === '*',
    type: lastSegment(element.type?.[0]?.code ?? 'CDSHooksElement'),
    codes: required === undefined ? undefined : publishedCodes(lastSegment(required)),
    keyedBy: extension('json-property-key')?.valueCode,
    nullable: extension('json-nullable')?.valueBoolean === true,
    impliedPrefix: extension('implied-string-prefix')?.valueString ?? '',
    childrenOf: element.contentReference?.replace('#', '') ?? element.path,
  };
}

function structureDefinitionElements(model: string): PublishedElement[] {
  const text = readPublished(`logical-models/structuredefinition-${model}.json`);
  const definition = JSON.parse(text) as { differential: { element: PublishedElement[] } };
  return definition.differential.element.filter((element) => element.path !== model);
}

/** Reads the element lines (`* path min..max type`) of a FHIR Shorthand model and their implied prefixes. */
function shorthandElements(model: string): PublishedElement[] {
  const text = readPublished(`fsh/spec/${model}.fsh`);
  return [...text.matchAll(/^\* ([\w.]+) (\d+)\.\.(\d+|\*) (?!contentReference)(\S+) /gm)].map(
    ([, path = '', min, max = '', code = '']) => {
      const isPrefixed = text.includes(`* ${path} ^extension[=].valueString = "urn:uuid:"`);
      const extension = isPrefixed ? [{ url: 'implied-string-prefix', valueString: 'urn:uuid:' }] : [];
      return { path: `${model}.${path}`, min: Number(min), max, type: [{ code }], extension };
    },
  );
}

function modelElements(
  structureDefinitions: readonly string[],
  shorthand: readonly string[],
): ModelElement[] {
  const older = structureDefinitions.flatMap(structureDefinitionElements);
  const known = new Set(older.map((element) => element.path));
  const newer = shorthand.flatMap(shorthandElements).filter((element) => !known.has(element.path));
  // D9: hookVersion is in the narrative of 3.0 and in neither form of the model.
  const narrative = {
    path: 'CDSHooksServices.services.hookVersion',
    min: 0,
    max: '1',
    type: [{ code: 'string' }],
  };
  return [...older, ...newer, narrative].map(toModelElement);
}

export const contextModels: Readonly<Record<string, string>> = {
  'appointment-book': 'CDSHookAppointmentBookContext',
  'order-select': 'CDSHookOrderSelectContext',
  'order-sign': 'CDSHookOrderSignContext',
  'patient-view': 'CDSHookPatientViewContext',
};

/**
 * The StructureDefinitions, joined by the elements which only the newer FHIR Shorthand has:
 * all of Feedback, `actionSelectionBehavior`, `autolaunchable` and the service's `version`.
 */
const elements = modelElements(
  ['CDSHooksResponse', 'CDSHooksServices', 'CDSHooksRequest', ...Object.values(contextModels)],
  ['CDSHooksResponse', 'CDSHooksServices', 'CDSHooksFeedback'],
);

export function childElements(path: string): ModelElement[] {
  return elements.filter((element) => element.path.slice(0, element.path.lastIndexOf('.')) === path);
}

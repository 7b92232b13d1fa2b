import { withBodyStructures } from '../fhir/body-structure.js';
import { readDataSet } from '../fhir/bundle.js';
import type { DataSet } from '../fhir/bundle.js';
import { asArray, asText } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { namesOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import type { RecordInput } from './read-record.js';
import { contextEntries } from './recognition.js';
import { translateLocated } from './translate-located.js';

/** Everything that came with one call, as the readers see it: nothing behind this point looks at the request again. */
export interface CallResources {
  /** Orders being drafted or signed. */
  readonly drafts: readonly Located[];
  /** Names of the drafts just chosen; undefined where the hook does not say. */
  readonly selected: ReadonlySet<string> | undefined;
  /** Entries of the appointment Bundle: visits, and orders that came with them. */
  readonly visits: readonly Located[];
  readonly sets: ReadonlyMap<string, DataSet>;
}

/** The type of resource each prefetch key asks for. */
const RESOURCE_OF: Readonly<Record<string, string>> = {
  patient: 'Patient',
  user: 'PractitionerRole',
  encounter: 'Encounter',
  conditions: 'Condition',
  procedures: 'Procedure',
  measures: 'Observation',
  observations: 'Observation',
  localMeasures: 'Observation',
  devices: 'Device',
  deviceUses: 'DeviceUseStatement',
  serviceRequests: 'ServiceRequest',
  deviceRequests: 'DeviceRequest',
  questionnaireResponses: 'QuestionnaireResponse',
  appointments: 'Appointment',
};

/** The type of resource a key asks for; a key nobody knows asks for itself. */
export function resourceTypeOf(key: string): string {
  return RESOURCE_OF[key] ?? key;
}

/**
 * Takes the call apart: what was fetched stands for a key the client did not send, body structures are written out as
 * body sites, and a site's own codes are translated.
 */
export function callResources(input: RecordInput): CallResources {
  const raw = {
    drafts: contextEntries(input.context['draftOrders']),
    visits: contextEntries(input.context['appointments']),
    sets: new Map(input.keys.map((key) => [key, dataSetOf(key, input)])),
  };
  const resolve = resolverOf(raw, input);
  const prepare = (located: Located): Located => {
    const resource = withBodyStructures(located.resource, resolve, input.identity.fhirServer);
    const whole = resource === located.resource ? located : { ...located, resource };
    return input.maps ? translateLocated(whole, input.maps) : whole;
  };
  const prepareAll = (list: readonly Located[]): readonly Located[] => list.map(prepare);
  return {
    drafts: prepareAll(raw.drafts),
    selected: selectedNames(input),
    visits: prepareAll(raw.visits),
    sets: new Map([...raw.sets].map(([key, set]) => [key, { ...set, resources: prepareAll(set.resources) }])),
  };
}

function dataSetOf(key: string, input: RecordInput): DataSet {
  const fetched = input.fetched?.get(key);
  if (fetched) return fetched;
  // What a site never records is not missing.
  if (!Object.hasOwn(input.prefetch, key) && input.neverRecorded?.has(key))
    return { status: 'complete', resources: [] };
  return readDataSet(input.prefetch, key, resourceTypeOf(key));
}

function selectedNames(input: RecordInput): ReadonlySet<string> | undefined {
  if (input.hook !== 'order-select') return undefined;
  const names = asArray(input.context['selections']).flatMap((name) => asText(name) ?? []);
  return new Set(names);
}

/** Body structures are rare, so the index is made only when one is asked for. */
function resolverOf(
  raw: Pick<CallResources, 'drafts' | 'visits' | 'sets'>,
  input: RecordInput,
): (reference: string) => JsonObject | undefined {
  let index: ReadonlyMap<string, JsonObject> | undefined;
  return (reference) => {
    index ??= new Map(
      [...raw.drafts, ...raw.visits, ...[...raw.sets.values()].flatMap(({ resources }) => resources)].flatMap(
        (located) =>
          namesOf(located, input.identity.fhirServer).map((name) => [name, located.resource] as const),
      ),
    );
    return index.get(reference);
  };
}

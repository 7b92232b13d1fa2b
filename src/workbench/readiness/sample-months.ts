import { bundleEntries } from '../../fhir/bundle.js';
import { asObject, asText } from '../../fhir/json.js';
import type { JsonObject } from '../../fhir/json.js';
import type { AdviceInput } from '../../advice/index.js';
import type { SampleFigures } from './readiness-types.js';

/** What a reader wants to know the time of, and where each kind of resource says it. */
const DATED: Readonly<Record<string, { readonly of: string; readonly members: readonly string[] }>> = {
  Appointment: { of: 'visits', members: ['start'] },
  ServiceRequest: { of: 'orders', members: ['authoredOn'] },
  DeviceRequest: { of: 'orders', members: ['authoredOn'] },
  Observation: { of: 'measures', members: ['effectiveDateTime', 'issued'] },
};

const MONTH = /^\d{4}-\d{2}/;

/** The span of months a sample tells of; days would say more about people than a committee needs. */
export class SampleMonths {
  readonly #spans = new Map<string, { first: string; last: string }>();

  add({ context, prefetch }: AdviceInput): void {
    for (const value of [...Object.values(context), ...Object.values(prefetch)])
      for (const resource of resourcesIn(value)) this.#addResource(resource);
  }

  #addResource(resource: JsonObject): void {
    const dated = DATED[asText(resource['resourceType']) ?? ''];
    const month = dated?.members.flatMap((member) => MONTH.exec(asText(resource[member]) ?? '') ?? [])[0];
    if (!dated || month === undefined) return;
    const span = this.#spans.get(dated.of) ?? { first: month, last: month };
    this.#spans.set(dated.of, span);
    if (month < span.first) span.first = month;
    if (month > span.last) span.last = month;
  }

  figures(): SampleFigures['months'] {
    return ['visits', 'orders', 'measures'].flatMap((of) => {
      const span = this.#spans.get(of);
      return span ? [{ of, ...span }] : [];
    });
  }
}

function resourcesIn(value: unknown): readonly JsonObject[] {
  const object = asObject(value);
  if (!object) return [];
  return object['resourceType'] === 'Bundle'
    ? bundleEntries(object).map(({ resource }) => resource)
    : [object];
}

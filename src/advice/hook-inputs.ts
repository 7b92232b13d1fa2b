import { SERVICES } from './index.js';
import type { AdviceInput, Hook, Service } from './index.js';
import { listUuid } from '../base/hash.js';
import { bundleEntries } from '../fhir/bundle.js';
import type { DataSet } from '../fhir/bundle.js';
import { codingsOf } from '../fhir/codings.js';
import { asObject } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { nameOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import type { Site } from '../rulebook/site.js';
import type { Rulebook } from '../rulebook/types.js';
import { fetchedFor, patientCall } from './patient-calls.js';

/** Knowledge, time and installation an evaluation depends on. */
export interface EvaluationSetting {
  readonly rulebook: Rulebook;
  readonly site?: Site;
  /** ISO 8601 instant. */
  readonly now: string;
  readonly engine: string;
}

/** Names of the hooks for whoever calls the command. */
export const HOOKS_BY_NAME = {
  booking: ['appointment-book'],
  order: ['order-sign'],
  chart: ['patient-view'],
  all: ['appointment-book', 'order-sign', 'patient-view'],
} as const satisfies Record<string, readonly Hook[]>;
export type HookName = keyof typeof HOOKS_BY_NAME;

const ASKER = 'Practitioner/kotyle-evaluate';

/**
 * The calls a record system would make for a patient kept as one Bundle, which is taken as the whole record. A hook
 * for which there is nothing to book or to sign has none.
 */
export function inputsFromBundle(
  bundle: JsonObject,
  hooks: readonly Hook[],
  setting: EvaluationSetting,
): readonly AdviceInput[] {
  return servicesFor(hooks).flatMap((service) => {
    const call = patientCall(bundle, service, setting.rulebook, '');
    if (!call) return [];
    const patientId = String(call.context['patientId']);
    const local = setting.site ? localMeasures(bundle, setting.site, setting.rulebook) : undefined;
    return [
      {
        ...sharedInput(service, patientId, setting),
        context: { ...call.context, userId: ASKER },
        prefetch: { ...call.prefetch, ...(local && { localMeasures: local }) },
        fetched: fetchedFor(bundle, service, setting.rulebook),
      },
    ];
  });
}

/** Sets read from a FHIR server, by prefetch key, with how each arrived. */
export interface ServerRecord {
  readonly base: string;
  readonly patientId: string;
  readonly sets: ReadonlyMap<string, DataSet>;
}

/** The same for a patient read from a FHIR server: its open visits are booked, its draft orders signed. */
export function inputsFromServer(
  record: ServerRecord,
  hooks: readonly Hook[],
  setting: EvaluationSetting,
): readonly AdviceInput[] {
  return servicesFor(hooks).flatMap((service) => {
    const acted = actedOnServer(service.hook, record.sets);
    if (acted === undefined) return [];
    const { base: fhirServer, patientId, sets: fetched } = record;
    const context = { userId: ASKER, patientId, ...acted };
    return [{ ...sharedInput(service, patientId, setting), context, prefetch: {}, fetched, fhirServer }];
  });
}

function servicesFor(hooks: readonly Hook[]): readonly Service[] {
  return SERVICES.filter(({ hook }) => hooks.includes(hook));
}

/** The name of the call follows from its content, so that the same input gives the same bytes. */
function sharedInput(
  service: Service,
  patientId: string,
  { site, now, engine }: EvaluationSetting,
): Omit<AdviceInput, 'context' | 'prefetch'> {
  const hookInstance = listUuid(['evaluate', patientId, service.hook]);
  const installation = site && { site: toAnybody(site) };
  return { service, hookInstance, patientId, userId: ASKER, iss: '-', now, engine, ...installation };
}

/** The observations under a site's own codes, as its search for them would answer. */
function localMeasures(bundle: JsonObject, site: Site, { knowledge }: Rulebook): JsonObject | undefined {
  if (site.measureCodes.length === 0) return undefined;
  const known = new Set(site.measureCodes);
  const found = bundleEntries(bundle).filter(
    ({ resource }) =>
      resource['resourceType'] === 'Observation' &&
      codingsOf(asObject(resource['code']), knowledge.aliases).some(({ system, code }) =>
        known.has(`${system ?? ''}|${code ?? ''}`),
      ),
  );
  return toBundle('searchset', found);
}

/** What is being booked or signed, as members of the context; undefined when there is nothing of it. */
function actedOnServer(hook: Hook, sets: ReadonlyMap<string, DataSet>): JsonObject | undefined {
  switch (hook) {
    case 'patient-view':
      return {};
    case 'appointment-book': {
      const visits = sets.get('appointments')?.resources ?? [];
      return visits.length === 0 ? undefined : { appointments: toBundle('collection', visits) };
    }
    case 'order-select':
    case 'order-sign': {
      const drafts = [
        ...(sets.get('serviceRequests')?.resources ?? []),
        ...(sets.get('deviceRequests')?.resources ?? []),
      ].filter(({ resource }) => resource['status'] === 'draft');
      if (drafts.length === 0) return undefined;
      return { selections: drafts.map(nameOf), draftOrders: toBundle('collection', drafts) };
    }
  }
}

function toBundle(type: 'collection' | 'searchset', entries: readonly Located[]): JsonObject {
  const bare = entries.map(({ resource, fullUrl }) => ({
    ...(fullUrl !== undefined && { fullUrl }),
    resource,
  }));
  return { resourceType: 'Bundle', type, ...(bare.length > 0 && { entry: bare }) };
}

/** Whoever evaluates wants to see what any reader would: whom a site tells is no matter here. */
export function toAnybody(site: Site): Site {
  return { ...site, audience: new Map() };
}

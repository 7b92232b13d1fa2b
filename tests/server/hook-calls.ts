import type { Express } from 'express';
import type { JsonObject } from '../../src/fhir/json.js';
import type { HookCall, Reply, WireCard } from './test-service.js';
import {
  BOOKING_PATH,
  bookingCall,
  cardsOf,
  collection,
  HOOK_INSTANCE,
  ORDER_PATH,
  orderCall,
  PATIENT,
  post,
  searchset,
  testApp,
} from './test-service.js';

/** Calls of all four hooks, each with every set it may read, and the ways of asking. */

export const CHART_PATH = '/cds-services/hip-stability-chart';
export const SUBJECT = { reference: 'Patient/patient-1' };

const PATHS: Readonly<Record<string, string>> = {
  'appointment-book': BOOKING_PATH,
  'order-select': ORDER_PATH,
  'order-sign': ORDER_PATH,
  'patient-view': CHART_PATH,
};

export function selectCall(
  orders: readonly JsonObject[],
  selections: readonly string[],
  prefetch: JsonObject = {},
): HookCall {
  const { prefetch: signing } = orderCall({ orders, measures: [], prefetch });
  const keys = [
    'patient',
    'encounter',
    'conditions',
    'procedures',
    'serviceRequests',
    'devices',
    'measures',
    'questionnaireResponses',
  ];
  return {
    hook: 'order-select',
    hookInstance: HOOK_INSTANCE,
    context: {
      userId: 'Practitioner/surgeon-1',
      patientId: 'patient-1',
      selections,
      draftOrders: collection(...orders),
    },
    prefetch: Object.fromEntries(Object.entries(signing).filter(([key]) => keys.includes(key))),
  };
}

/** A chart with every set, also those a record system would only give when asked. */
export function chartCall(prefetch: JsonObject = {}): HookCall {
  const none = searchset();
  return {
    hook: 'patient-view',
    hookInstance: HOOK_INSTANCE,
    context: { userId: 'Practitioner/surgeon-1', patientId: 'patient-1' },
    prefetch: {
      patient: PATIENT,
      conditions: none,
      procedures: none,
      serviceRequests: none,
      devices: none,
      appointments: none,
      measures: none,
      observations: none,
      deviceUses: none,
      deviceRequests: none,
      questionnaireResponses: none,
      ...prefetch,
    },
  };
}

/** A visit that is a total hip replacement of the left hip by its own code. */
export function leftHipVisit(more: JsonObject = {}, prefetch: JsonObject = {}): HookCall {
  const serviceType = [{ coding: [{ system: 'http://snomed.info/sct', code: '770606008' }] }];
  return bookingCall({ serviceType, ...more }, prefetch);
}

export function withContext(call: HookCall, context: JsonObject): HookCall {
  return { ...call, context: { ...call.context, ...context } };
}

const shippedApp = testApp();

export async function send(call: HookCall, app: Express = shippedApp): Promise<Reply> {
  return await post(app, PATHS[call.hook] ?? '', call);
}

export async function cardsFor(call: HookCall, app: Express = shippedApp): Promise<readonly WireCard[]> {
  return cardsOf(await send(call, app));
}

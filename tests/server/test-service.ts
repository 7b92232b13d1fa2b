import { createSecretKey } from 'node:crypto';
import type { Express } from 'express';
import { pino } from 'pino';
import type { Logger } from 'pino';
import request from 'supertest';
import { expect } from 'vitest';
import type { Advisor } from '../../src/advice/index.js';
import { patientCall } from '../../src/advice/patient-calls.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { createApp } from '../../src/server/app.js';
import type { Client } from '../../src/server/auth/clients-file.js';
import { newRecordReader } from '../../src/server/fallback/record-reader.js';
import { readConfig } from '../../src/server/config.js';
import type { Config } from '../../src/server/config.js';
import type { Installation } from '../../src/server/installation.js';
import { newAdmission } from '../../src/server/operations/admission.js';
import { newLifecycle } from '../../src/server/operations/lifecycle.js';
import { newMetrics } from '../../src/server/operations/metrics.js';
import type { Metrics } from '../../src/server/operations/metrics.js';
import { newReadiness } from '../../src/server/operations/readiness.js';
import type { Shadow } from '../../src/server/shadow/shadow.js';
import { openStore } from '../../src/store/open-store.js';
import { newPseudonyms } from '../../src/store/pseudonym.js';
import type { Site } from '../../src/rulebook/site.js';
import type { ServiceStore, Store } from '../../src/store/store.js';
import { advisor as shippedAdvisor, rulebook, service } from '../advice/patients.js';
import type { ExpectedCard } from '../advice/patients.js';
import { measureObservation } from '../advice/plan.js';
import { fhirIssues } from '../oracles/fhir-validity.js';

/** The clock of every test here: the day on which the test patients' expectations were written. */
export const NOW = '2026-11-24T10:00:00.000Z';
export const HOOK_INSTANCE = '3f2b8f0e-6a3c-4d63-9c1e-5b8a7d2f4e10';
export const HOOKS = ['appointment-book', 'order-sign'] as const;
export const ORDER_PATH = '/cds-services/hip-stability-order';
export const BOOKING_PATH = '/cds-services/hip-stability-booking';

/** A key that is no secret. */
export const TEST_KEY = createSecretKey(Buffer.alloc(32, 7));

/** A store of its own for each application, opened when it is first asked for something. */
function ownStore(): ServiceStore {
  let opening: Promise<Store> | undefined;
  const open = (): Promise<Store> => (opening ??= openStore({ path: ':memory:', contentKey: TEST_KEY }));
  return {
    saveDecision: async (...given) => (await open()).saveDecision(...given),
    saveFeedback: async (...given) => (await open()).saveFeedback(...given),
    saveDifference: async (...given) => (await open()).saveDifference(...given),
    acknowledgedBy: async (...given) => (await open()).acknowledgedBy(...given),
    rulesOfCards: async (...given) => (await open()).rulesOfCards(...given),
    rememberToken: async (...given) => (await open()).rememberToken(...given),
    prune: async (...given) => (await open()).prune(...given),
    ping: async () => (await open()).ping(),
    close: async () => (await open()).close(),
  };
}

export interface AppSettings extends Omit<Partial<Config>, 'store' | 'site' | 'clients'> {
  readonly log?: Logger;
  readonly advisor?: Advisor;
  readonly store?: ServiceStore;
  /** What the installation adds: its codes, choices and readers. */
  readonly installation?: Site;
  readonly metrics?: Metrics;
  /** Who may call, in production. */
  readonly clients?: readonly Client[];
  readonly now?: () => Date;
  /** A rulebook that is tried on every call after its answer. */
  readonly shadow?: Shadow;
}

/** The HTTP application as shipped, with a fixed clock, quiet unless a log is given. */
export function testApp(settings: AppSettings = {}): Express {
  const {
    log = pino({ level: 'silent' }),
    advisor = shippedAdvisor,
    store = ownStore(),
    installation,
    metrics = newMetrics(),
    clients = [],
    now = () => new Date(NOW),
    shadow,
    ...config
  } = settings;
  // Client and service share one process here, which is busy for reasons of its own.
  const busy = { KOTYLE_BUSY_MS: '60000' };
  const defaults = readConfig({ KOTYLE_STORE: ':memory:', KOTYLE_LOG_LEVEL: 'silent', ...busy });
  const whole = { ...defaults, ...config };
  const inForce: Installation = { advisor, ...(installation && { site: installation }) };
  const knows = { installation: () => inForce, engineVersion: '0.1.0', store, lifecycle: newLifecycle() };
  return createApp({
    ...knows,
    config: whole,
    log,
    now,
    clients,
    metrics,
    ...(shadow && { shadow }),
    admission: newAdmission(whole, metrics),
    readiness: newReadiness(knows),
    pseudonyms: newPseudonyms(TEST_KEY),
    recordReader: newRecordReader({ allowed: whole.fhirServers, budgetMs: whole.fhirBudgetMs, log }),
  });
}

export interface Reply {
  readonly status: number;
  readonly headers: Readonly<Record<string, string>>;
  readonly text: string;
}

/** Sends a body as it stands; anything but a string is written as JSON first. */
export async function post(
  app: Express,
  path: string,
  body: unknown,
  headers: Readonly<Record<string, string>> = { 'Content-Type': 'application/json' },
): Promise<Reply> {
  const sent = typeof body === 'string' || Buffer.isBuffer(body) ? body : JSON.stringify(body);
  const pending = request(app).post(path).set(headers);
  // Superagent would write a Buffer of a JSON type as JSON again.
  if (Buffer.isBuffer(sent)) pending.serialize((value: unknown) => value as string);
  return await pending.send(sent);
}

export interface WireCard {
  readonly uuid: string;
  readonly summary: string;
  readonly detail: string;
  readonly indicator: string;
  readonly source: { readonly topic: { readonly code: string } };
  readonly suggestions: readonly { readonly label: string; readonly uuid: string }[];
  readonly extension: { readonly 'example.kotyle.advisory': JsonObject };
}

/** The cards of an answer that must be a success. */
export function cardsOf(reply: Reply): readonly WireCard[] {
  expect(reply.status, reply.text).toBe(200);
  return (JSON.parse(reply.text) as { readonly cards: readonly WireCard[] }).cards;
}

/** A card as an expectation names it. */
export function named(cards: readonly WireCard[]): readonly ExpectedCard[] {
  return cards.map((card) => ({
    rule: card.source.topic.code,
    hip: String(card.extension['example.kotyle.advisory']['hip']),
    indicator: card.indicator,
  }));
}

export function rulesOf(cards: readonly WireCard[]): readonly string[] {
  return cards.map((card) => card.source.topic.code);
}

export interface HookCall {
  readonly hook: string;
  readonly hookInstance: string;
  readonly context: JsonObject;
  readonly prefetch: JsonObject;
}

/** The request a record system would send for a test patient; fails when the patient has nothing for this hook. */
export function callFor(bundle: JsonObject, hook: string): HookCall {
  const call = patientCall(bundle, service(hook), rulebook, HOOK_INSTANCE);
  if (!call) throw new Error(`nothing for ${hook}`);
  return call;
}

const SNOMED = 'http://snomed.info/sct';
export const LEFT = { coding: [{ system: SNOMED, code: '287679003' }] };
export const RIGHT = { coding: [{ system: SNOMED, code: '287579007' }] };

/** A draft order for the left hip, as unremarkable as can be. */
export const ORDER: JsonObject = {
  resourceType: 'ServiceRequest',
  id: 'order-1',
  status: 'draft',
  intent: 'order',
  code: { coding: [{ system: SNOMED, code: '52734007' }] },
  bodySite: [LEFT],
  subject: { reference: 'Patient/patient-1' },
};

export const PATIENT: JsonObject = { resourceType: 'Patient', id: 'patient-1', gender: 'female' };

/** One planned measure of the left hip that no rule objects to, unless changed. */
export function planned(code: string, value: number, unit: string, change: JsonObject = {}): JsonObject {
  return { ...measureObservation(code, value, unit), ...change };
}

/** The plan of a textbook hip: 36/12 head and neck, cup 40/20, stem 15. */
export const TEXTBOOK: readonly JsonObject[] = [
  planned('cup-inclination', 40, 'deg'),
  planned('cup-anteversion', 20, 'deg'),
  planned('stem-anteversion', 15, 'deg'),
  planned('head-diameter', 36, 'mm'),
  planned('neck-diameter', 12, 'mm'),
];

export function searchset(...resources: readonly JsonObject[]): JsonObject {
  return { resourceType: 'Bundle', type: 'searchset', entry: resources.map((resource) => ({ resource })) };
}

export function collection(...resources: readonly JsonObject[]): JsonObject {
  return { ...searchset(...resources), type: 'collection' };
}

/** A call at order-sign with a complete prefetch; what is given replaces what would be there. */
export function orderCall(
  given: {
    readonly orders?: readonly JsonObject[];
    readonly measures?: readonly JsonObject[];
    readonly prefetch?: JsonObject;
    readonly context?: JsonObject;
  } = {},
): HookCall {
  const { orders = [ORDER], measures = TEXTBOOK, prefetch = {}, context = {} } = given;
  return {
    hook: 'order-sign',
    hookInstance: HOOK_INSTANCE,
    context: {
      userId: 'Practitioner/surgeon-1',
      patientId: 'patient-1',
      draftOrders: collection(...orders),
      ...context,
    },
    prefetch: {
      patient: PATIENT,
      conditions: searchset(),
      procedures: searchset(),
      measures: searchset(...measures),
      observations: searchset(),
      devices: searchset(),
      deviceUses: searchset(),
      serviceRequests: searchset(),
      deviceRequests: searchset(),
      questionnaireResponses: searchset(),
      ...prefetch,
    },
  };
}

/** A call at appointment-book with a complete prefetch. */
export function bookingCall(appointment: JsonObject, prefetch: JsonObject = {}): HookCall {
  const visit: JsonObject = {
    resourceType: 'Appointment',
    id: 'visit-1',
    status: 'proposed',
    participant: [{ actor: { reference: 'Patient/patient-1' }, status: 'needs-action' }],
    ...appointment,
  };
  return {
    hook: 'appointment-book',
    hookInstance: HOOK_INSTANCE,
    context: {
      userId: 'Practitioner/scheduler-1',
      patientId: 'patient-1',
      appointments: collection(visit),
    },
    prefetch: {
      patient: PATIENT,
      conditions: searchset(),
      procedures: searchset(),
      serviceRequests: searchset(),
      devices: searchset(),
      measures: searchset(),
      ...prefetch,
    },
  };
}

interface OutcomeIssue {
  readonly severity: string;
  readonly code: string;
  readonly diagnostics: string;
  readonly expression?: readonly string[];
}

/** Insists on a refusal that is a valid OperationOutcome without patient value or stack, and hands out its issues. */
export function problem(
  reply: Reply,
  status: number,
  secrets: readonly string[] = [],
): readonly OutcomeIssue[] {
  expect(reply.status, reply.text).toBe(status);
  // E9: the body is an OperationOutcome, in the FHIR media type.
  expect(reply.headers['content-type']).toMatch(/^application\/fhir\+json/);
  const outcome = JSON.parse(reply.text) as { readonly resourceType: string; readonly issue: OutcomeIssue[] };
  expect(fhirIssues(outcome)).toEqual([]);
  expect(outcome.resourceType).toBe('OperationOutcome');
  // R10: no patient values, and nothing of our insides.
  for (const secret of secrets) expect(reply.text).not.toContain(secret);
  expect(reply.text).not.toMatch(/node_modules|\.[jt]s:\d+|\bat [\w.]+ \(/);
  expect(outcome.issue.length).toBeGreaterThan(0);
  return outcome.issue;
}

export function pathsOf(issues: readonly OutcomeIssue[]): readonly string[] {
  return issues.flatMap(({ expression }) => expression ?? []);
}

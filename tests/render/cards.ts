import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { advise, newAdvisor, SERVICES } from '../../src/advice/index.js';
import type { Advice, AdviceInput, Advisor, Service } from '../../src/advice/index.js';
import { fetchedFor, patientCall } from '../../src/advice/patient-calls.js';
import type { JsonObject } from '../../src/fhir/json.js';
import type { Card } from '../../src/render/card-types.js';
import { order, searchset } from '../facts/records.js';
import { shipped } from '../rulebook/shipped.js';

/** Cards as a caller gets them: through advise(), for the test patients and for calls made by hand. */

const PATIENTS = fileURLToPath(new URL('../../fixtures/patients/', import.meta.url));
const HOOK_INSTANCE = 'd1577c69-dfbe-44ad-ba6d-3e05e953b2ea';
export const NOW = '2026-11-24T10:00:00.000Z';
export const advisor = newAdvisor(shipped);

export async function cardsOf(input: AdviceInput, by: Advisor = advisor): Promise<readonly Card[]> {
  return (await answerOf(input, by)).cards;
}

type Answer = Extract<Advice, { kind: 'answer' }>;

async function answerOf(input: AdviceInput, by: Advisor): Promise<Answer> {
  const advice = await advise(input, by);
  if (advice.kind !== 'answer') throw new Error(`expected an answer, got ${advice.kind}`);
  return advice;
}

function inputFor(entry: Service, context: JsonObject, prefetch: JsonObject): AdviceInput {
  return {
    service: entry,
    hookInstance: HOOK_INSTANCE,
    patientId: String(context['patientId']),
    userId: 'Practitioner/x',
    context,
    prefetch,
    iss: '-',
    now: NOW,
    engine: '0.1.0',
  };
}

export interface PatientCard {
  readonly patient: string;
  readonly hook: string;
  readonly card: Card;
}

/** Every card of every test patient at every entry. */
export async function allPatientCards(): Promise<readonly PatientCard[]> {
  const found: PatientCard[] = [];
  for (const patient of readdirSync(PATIENTS).sort()) {
    const bundle = JSON.parse(readFileSync(`${PATIENTS}${patient}/bundle.json`, 'utf8')) as JsonObject;
    for (const entry of SERVICES) {
      const call = patientCall(bundle, entry, shipped, HOOK_INSTANCE);
      if (!call) continue;
      const cards = await cardsOf({
        ...inputFor(entry, call.context, call.prefetch),
        fetched: fetchedFor(bundle, entry, shipped),
      });
      found.push(...cards.map((card) => ({ patient, hook: entry.hook, card })));
    }
  }
  return found;
}

export interface SignedCase {
  readonly orders?: readonly JsonObject[];
  readonly measures?: readonly JsonObject[];
  readonly conditions?: readonly JsonObject[];
  readonly prefetch?: Readonly<Record<string, unknown>>;
  readonly acknowledged?: ReadonlySet<string>;
}

/** The cards for an order signed by hand. */
export async function signedCards(given: SignedCase, by: Advisor = advisor): Promise<readonly Card[]> {
  return (await signedAnswer(given, by)).cards;
}

/** Everything found for an order signed by hand. */
export async function signedAnswer(given: SignedCase, by: Advisor = advisor): Promise<Answer> {
  const entry = SERVICES.find(({ hook }) => hook === 'order-sign');
  if (!entry) throw new Error('no service for order-sign');
  const prefetch = {
    patient: { resourceType: 'Patient', id: 'p' },
    conditions: searchset(...(given.conditions ?? [])),
    measures: searchset(...(given.measures ?? [])),
    observations: searchset(),
    serviceRequests: searchset(),
    ...given.prefetch,
  };
  const context = {
    patientId: 'p',
    userId: 'Practitioner/x',
    draftOrders: searchset(...(given.orders ?? [order()])),
  };
  const { acknowledged } = given;
  return answerOf({ ...inputFor(entry, context, prefetch), ...(acknowledged && { acknowledged }) }, by);
}

export function cardFor(cards: readonly Card[], rule: string): Card {
  const found = cards.find(({ source }) => source.topic.code === rule);
  if (!found)
    throw new Error(
      `no card ${rule}, only ${cards.map(({ source }) => source.topic.code).join(', ') || 'none'}`,
    );
  return found;
}

/** The five lines a reader sees first, without their markup. */
export function fiveLines(card: Card): readonly string[] {
  return card.detail
    .split('\n\n')
    .slice(0, 5)
    .map((line) => line.replaceAll('*', ''));
}

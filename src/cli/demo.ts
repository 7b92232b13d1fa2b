import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { COMPUTATION_IDS, SERVICES } from '../advice/index.js';
import type { Service } from '../advice/index.js';
import { asObject, asText, objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { cardText } from '../render/text.js';
import type { Card } from '../render/card-types.js';
import { loadRulebook } from '../rulebook-files/load-rulebook.js';
import type { Rulebook } from '../rulebook/types.js';
import { readConfig } from '../server/config.js';
import { followSignals } from '../server/operations/signals.js';
import { SHIPPED_RULES, startService } from '../server/serve.js';
import { patientCall } from '../advice/patient-calls.js';
import type { PatientCall } from '../advice/patient-calls.js';

/** The test patient the demo books and then signs for: invented, like all of them. */
const DEMO_PATIENT = fileURLToPath(
  new URL('../../fixtures/patients/demo-parkinson-steep-cup/bundle.json', import.meta.url),
);

const HOOK_INSTANCES: Readonly<Record<string, string>> = {
  'appointment-book': '6f1c2a52-3f0e-4b8e-9a55-1f6f7a0d2c11',
  'order-sign': '0b1f7d8e-52c9-4c57-8a34-7d0f7a9b6e22',
};
/** The same order signed once more is another call. */
const SECOND_SIGNING = '5c9e2f14-8d37-4b6a-a1c0-3e7b9d5f8a61';

/**
 * Starts the service, books the hip of a test patient and signs its order over HTTP, prints what a clinician would see;
 * then accepts one card and signs again.
 */
async function demo(): Promise<void> {
  const config = readConfig({ KOTYLE_LOG_LEVEL: 'warn', KOTYLE_STORE: ':memory:', ...process.env });
  const service = await startService(config);
  const rulebook = loadRulebook(SHIPPED_RULES, COMPUTATION_IDS);
  const bundle = asObject(JSON.parse(readFileSync(DEMO_PATIENT, 'utf8'))) ?? {};
  say(
    `Kotyle, rulebook ${rulebook.about.version}: ${rulebook.about.status}, experimental, not signed off by any clinician.`,
  );
  say(`Patient: ${describePatient(bundle)} (invented)\n`);
  for (const entry of SERVICES.filter(({ hook }) => hook in HOOK_INSTANCES)) {
    const cards = await show(entry, bundle, rulebook, service.url);
    if (entry.hook === 'order-sign') await acceptAndSignAgain(cards, entry, bundle, rulebook, service.url);
  }
  if (process.env['KOTYLE_DEMO_ONCE'] === 'true') {
    await service.stop();
    return;
  }
  say(`Serving on ${service.url}/cds-services until you press Ctrl+C.`);
  followSignals(service);
}

async function show(
  entry: Service,
  bundle: JsonObject,
  rulebook: Rulebook,
  url: string,
): Promise<readonly Card[]> {
  const call = callOf(entry, bundle, rulebook, HOOK_INSTANCES[entry.hook] ?? '');
  say(`> The record system sent ${entry.hook}: ${describeCall(call)}.`);
  const body = JSON.stringify(call);
  await post(url, entry, body); // The first call pays for compiling; what a hospital meets is the next.
  const started = performance.now();
  const cards = await post(url, entry, body);
  const ms = performance.now() - started;
  say(`< ${cards.length} ${cards.length === 1 ? 'card' : 'cards'} in ${ms.toFixed(1)} ms:\n`);
  for (const card of cards) say(`${cardText(card)}\n`);
  return cards;
}

function callOf(entry: Service, bundle: JsonObject, rulebook: Rulebook, hookInstance: string): PatientCall {
  const call = patientCall(bundle, entry, rulebook, hookInstance);
  if (!call) throw new Error(`the demo patient has nothing for ${entry.hook}`);
  return call;
}

/** Accepts the last card, as a surgeon would who has thought of it already, and signs the same order again. */
async function acceptAndSignAgain(
  cards: readonly Card[],
  entry: Service,
  bundle: JsonObject,
  rulebook: Rulebook,
  url: string,
): Promise<void> {
  const card = cards.at(-1);
  const suggestion = card?.suggestions[0];
  if (!card || !suggestion) throw new Error('the demo expected a card that can be accepted');
  const accepted = {
    card: card.uuid,
    outcome: 'accepted',
    acceptedSuggestions: [{ id: suggestion.uuid }],
    outcomeTimestamp: new Date().toISOString(),
  };
  await send(`${url}/cds-services/${entry.id}/feedback`, JSON.stringify({ feedback: [accepted] }));
  const again = await post(url, entry, JSON.stringify(callOf(entry, bundle, rulebook, SECOND_SIGNING)));
  const rule = card.source.topic.code;
  const quiet = again.some(({ source }) => source.topic.code === rule) ? 'still shown' : 'quiet';
  say(
    `> The surgeon answered ${rule} with "${suggestion.label}"; the same order signed again: ${again.length} cards, that one ${quiet}.\n`,
  );
}

async function post(url: string, entry: Service, body: string): Promise<readonly Card[]> {
  const answer = (await send(`${url}/cds-services/${entry.id}`, body)) as { readonly cards: readonly Card[] };
  return answer.cards;
}

async function send(url: string, body: string): Promise<unknown> {
  const headers = { 'Content-Type': 'application/json' };
  const response = await fetch(url, { method: 'POST', headers, body });
  if (!response.ok) throw new Error(`${url} answered ${response.status}: ${await response.text()}`);
  return await response.json();
}

function describePatient(bundle: JsonObject): string {
  const patient = objectsIn(bundle['entry'])
    .map((entry) => asObject(entry['resource']))
    .find((resource) => resource?.['resourceType'] === 'Patient');
  return `${asText(patient?.['gender']) ?? 'sex not stated'}, born ${asText(patient?.['birthDate']) ?? 'on an unknown day'}`;
}

function describeCall(call: PatientCall): string {
  const counts = Object.entries(call.prefetch).flatMap(([key, value]) => {
    const count = objectsIn(asObject(value)?.['entry']).length;
    return key === 'patient' ? [] : [`${key} ${count}`];
  });
  return counts.join(', ');
}

function say(text: string): void {
  process.stdout.write(`${text}\n`);
}

await demo();

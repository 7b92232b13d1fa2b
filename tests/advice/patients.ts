import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { advise, COMPUTATION_IDS, newAdvisor, SERVICES } from '../../src/advice/index.js';
import type { Advice, AdviceInput, Service } from '../../src/advice/index.js';
import { fetchedFor, patientCall } from '../../src/advice/patient-calls.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { loadRulebook } from '../../src/rulebook-files/load-rulebook.js';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
export const PATIENTS = join(ROOT, 'fixtures/patients');

/** The shipped rulebook, and an advisor over it. */
export const rulebook = loadRulebook(join(ROOT, 'rules'), COMPUTATION_IDS);
export const advisor = newAdvisor(rulebook);

export interface ExpectedCard {
  readonly rule: string;
  readonly hip: string;
  readonly indicator: string;
}

export interface TestPatient {
  readonly name: string;
  readonly bundle: JsonObject;
  readonly expected: {
    readonly teaches: string;
    readonly truth: string;
    readonly now: string;
    readonly cards: Readonly<Record<string, readonly ExpectedCard[]>>;
  };
}

/** Every test patient under `fixtures/patients`, by name. */
export function testPatients(): readonly TestPatient[] {
  return readdirSync(PATIENTS)
    .sort()
    .map((name) => ({
      name,
      bundle: readJson(name, 'bundle') as JsonObject,
      expected: readJson(name, 'expected') as TestPatient['expected'],
    }));
}

export function testPatient(name: string): TestPatient {
  const found = testPatients().find((patient) => patient.name === name);
  if (!found) throw new Error(`no test patient ${name}`);
  return found;
}

function readJson(name: string, file: string): unknown {
  return JSON.parse(readFileSync(join(PATIENTS, name, `${file}.json`), 'utf8')) as unknown;
}

export function service(hook: string): Service {
  const found = SERVICES.find((candidate) => candidate.hook === hook);
  if (!found) throw new Error(`no service for ${hook}`);
  return found;
}

export const NOW = '2026-11-24T10:00:00.000Z';
const HOOK_INSTANCE = 'd1577c69-dfbe-44ad-ba6d-3e05e953b2ea';

/** The input of `advise()` for a test patient at one hook; undefined when it has nothing to book or sign. */
export function inputFor(bundle: JsonObject, hook: string, now: string = NOW): AdviceInput | undefined {
  const entry = service(hook);
  const call = patientCall(bundle, entry, rulebook, HOOK_INSTANCE);
  if (!call) return undefined;
  return {
    service: entry,
    hookInstance: call.hookInstance,
    patientId: String(call.context['patientId']),
    userId: String(call.context['userId']),
    context: call.context,
    prefetch: call.prefetch,
    // As with a token: what a service reads later, once it knows that the call is about a hip.
    fetched: fetchedFor(bundle, entry, rulebook),
    iss: '-',
    now,
    engine: '0.1.0',
  };
}

export type Answer = Extract<Advice, { kind: 'answer' }>;

/** Asks for advice and insists on an answer. */
export async function answerFor(bundle: JsonObject, hook: string): Promise<Answer> {
  const input = inputFor(bundle, hook);
  if (!input) throw new Error(`nothing for ${hook}`);
  return answerTo(input);
}

export async function answerTo(input: AdviceInput): Promise<Answer> {
  const advice = await advise(input, advisor);
  if (advice.kind !== 'answer')
    throw new Error(`expected an answer, got ${advice.kind}: ${JSON.stringify(advice.issues)}`);
  return advice;
}

/** A card as the expectation names it. */
export function cardNames(answer: Answer): readonly ExpectedCard[] {
  return answer.cards.map((card) => ({
    rule: card.source.topic.code,
    hip: String(card.extension['example.kotyle.advisory']['hip']),
    indicator: card.indicator,
  }));
}

/** All entries of a bundle, changed one by one; an entry answered with undefined is left out. */
export function mapEntries(
  bundle: JsonObject,
  change: (resource: JsonObject) => JsonObject | undefined,
): JsonObject {
  const entries = (bundle['entry'] as readonly { readonly resource: JsonObject }[]).flatMap((entry) => {
    const resource = change(entry.resource);
    return resource ? [{ ...entry, resource }] : [];
  });
  return { ...bundle, entry: entries };
}

const MEASURES = 'https://kotyle.example/fhir/CodeSystem/hip-measure';

/** The measure code of an Observation of ours. */
export function measureCode(resource: JsonObject): string | undefined {
  const code = resource['code'] as
    { readonly coding?: readonly { readonly system?: string; readonly code?: string }[] } | undefined;
  return code?.coding?.find(({ system }) => system === MEASURES)?.code;
}

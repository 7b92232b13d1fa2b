import { missingSets } from '../../src/advice/index.js';
import type { AdviceInput } from '../../src/advice/index.js';
import { bundleEntries } from '../../src/fhir/bundle.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { everyCarrier } from '../advice/every-carrier.js';
import { answerTo, inputFor, rulebook, service, testPatient } from '../advice/patients.js';

const RESOURCES = 30;
/** Calls for as many patients are sent in turn, as a hospital would: none is the repetition of the one before. */
const PATIENTS = 2000;

/** What is sent, and what it holds and gets. */
export interface Load {
  readonly about: string;
  /** Hips and constructs that are evaluated. */
  readonly hips: number;
  readonly path: string;
  readonly bodies: readonly string[];
}

/** Both hips planned in every way at once: more cards than any patient has. */
export const EVERY_CARRIER = 'every-carrier';

/** Both hips of the staged patient signed in one call. */
export const BOTH_SIGNED = 'staged-bilateral, both signed';

function bundleOf(patient: string): JsonObject {
  switch (patient) {
    case EVERY_CARRIER:
      return everyCarrier();
    case BOTH_SIGNED:
      return bothSigned(testPatient('staged-bilateral').bundle);
    default:
      return testPatient(patient).bundle;
  }
}

/** The same record with the order of the other hip, which waits there, signed too. */
function bothSigned(bundle: JsonObject): JsonObject {
  const entry = bundleEntries(bundle).map(({ resource, ...located }) =>
    resource['resourceType'] === 'ServiceRequest'
      ? { ...located, resource: { ...resource, status: 'draft' } }
      : { ...located, resource },
  );
  return { ...bundle, entry };
}

/** The resources of a patient's record that are no drafts, for a FHIR server. */
export function recordOf(patient: string): readonly JsonObject[] {
  const input = inputOf(patient, 'order-sign');
  const drafts = JSON.stringify(input.context);
  return [
    ...bundleEntries(bundleOf(patient)).map(({ resource }) => resource),
    ...fill(input, RESOURCES - resourcesIn(call(input))).map(({ resource }) => resource),
  ].filter((resource) => !drafts.includes(JSON.stringify(resource)));
}

function inputOf(patient: string, hook: string): AdviceInput {
  const input = inputFor(bundleOf(patient), hook);
  if (!input) throw new Error(`${patient} has nothing for ${hook}`);
  return input;
}

/** A patient's call, filled up with ordinary resources to thirty. */
export async function hookLoad(patient: string, hook: string): Promise<Load> {
  const input = inputOf(patient, hook);
  const set = (input.prefetch['conditions'] ?? {}) as { readonly entry?: readonly unknown[] };
  const entry = [...(set.entry ?? []), ...fill(input, RESOURCES - resourcesIn(call(input)))];
  const whole = { ...input, prefetch: { ...input.prefetch, conditions: { ...set, entry } } };
  // As the service meets it: without a token there are no later sets.
  const answer = await answerTo({ ...whole, fetched: new Map() });
  const text = call(whole);
  return {
    about: `${hook} of ${patient}, ${answer.hips.length} ${answer.hips.length === 1 ? 'hip' : 'hips'}, ${resourcesIn(text)} resources, ${kibibytes(text)} KiB, ${answer.cards.length} cards`,
    hips: answer.hips.length,
    path: pathOf(hook),
    bodies: forPatients(text, input),
  };
}

/** The same call with nothing but a token, and the reads that the service then makes. */
export function tokenLoad(
  patient: string,
  hook: string,
  fhirServer: string,
): Load & { readonly reads: readonly string[] } {
  const input = { ...inputOf(patient, hook), prefetch: {}, fetched: new Map() };
  const reads = missingSets(input, rulebook, service(hook).keys).map(({ url }) => url);
  const scope = 'patient/*.read';
  const access = { access_token: 'token', token_type: 'Bearer', expires_in: 300, scope, subject: 'bench' };
  const text = JSON.stringify({
    ...(JSON.parse(call(input)) as JsonObject),
    fhirServer,
    fhirAuthorization: access,
  });
  // One record, so one patient; each call is another.
  const bodies = Array.from({ length: PATIENTS }, (_unused, index) =>
    text.replaceAll(input.hookInstance, instance(index)),
  );
  return {
    about: `${hook} of ${patient} by token, ${reads.length} reads`,
    hips: 1,
    path: pathOf(hook),
    bodies,
    reads,
  };
}

const pathOf = (hook: string): string => `/cds-services/${service(hook).id}`;

const kibibytes = (text: string): number => Math.round(text.length / 1024);

function call({ service: { hook }, hookInstance, context, prefetch }: AdviceInput): string {
  return JSON.stringify({ hook, hookInstance, context, prefetch });
}

function forPatients(text: string, { hookInstance, patientId }: AdviceInput): readonly string[] {
  return Array.from({ length: PATIENTS }, (_unused, index) =>
    text.replaceAll(hookInstance, instance(index)).replaceAll(patientId, `${patientId}-${index}`),
  );
}

function instance(index: number): string {
  return `d1577c69-dfbe-44ad-ba6d-${String(index).padStart(12, '0')}`;
}

function resourcesIn(text: string): number {
  const count = (part: string): number => text.split(part).length - 1;
  return count('"resourceType":') - count('"resourceType":"Bundle"');
}

interface Filled {
  readonly fullUrl: string;
  readonly resource: JsonObject;
}

function fill({ patientId }: AdviceInput, count: number): readonly Filled[] {
  return Array.from({ length: Math.max(0, count) }, (_unused, index) => other(index, patientId));
}

/** A problem-list entry that has nothing to do with a hip, with what records commonly send along: meta, narrative. */
function other(index: number, patientId: string): Filled {
  const code = `J${10 + index}.1`;
  const status = (system: string, value: string): object => ({
    coding: [{ system: `http://terminology.hl7.org/CodeSystem/${system}`, code: value, display: value }],
    text: value,
  });
  const resource = {
    resourceType: 'Condition',
    id: `other-${index}`,
    meta: { versionId: '3', lastUpdated: '2026-05-01T08:00:00Z', source: 'urn:example:record' },
    text: {
      status: 'generated',
      div: `<div xmlns="http://www.w3.org/1999/xhtml"><p><b>Condition</b></p><p>code: ${code}, clinical status: active, onset: 2014-05-01</p></div>`,
    },
    identifier: [{ system: 'urn:example:problem', value: `problem-${index}` }],
    clinicalStatus: status('condition-clinical', 'active'),
    verificationStatus: status('condition-ver-status', 'confirmed'),
    category: [status('condition-category', 'problem-list-item')],
    code: {
      coding: [{ system: 'http://hl7.org/fhir/sid/icd-10-cm', code, display: 'something else' }],
      text: 'something else',
    },
    subject: { reference: `Patient/${patientId}`, display: 'the patient' },
    encounter: { reference: 'Encounter/visit-of-long-ago' },
    onsetDateTime: '2014-05-01',
    recordedDate: '2014-05-02',
    recorder: { reference: 'PractitionerRole/recorder', display: 'a recorder' },
  };
  return { fullUrl: `https://record.example/fhir/Condition/other-${index}`, resource };
}

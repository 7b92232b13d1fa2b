import { canonicalJson } from '../base/canonical-json.js';
import { compareText } from '../base/order.js';
import type { DataSet } from '../fhir/bundle.js';
import { asObject, asText } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { nameOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import { ownershipOf } from '../fhir/same-patient.js';
import type { PatientIdentity } from '../fhir/same-patient.js';
import type { DataFinding } from './definitions.js';
import type { FactKnowledge } from './knowledge.js';
import type { PatientRecord } from './patient-record.js';
import type { RecordInput } from './read-record.js';
import type { Note } from './readings.js';
import { isLive } from './appointments.js';

export interface OwnSets {
  readonly own: ReadonlyMap<string, DataSet>;
  readonly findings: readonly DataFinding[];
  readonly notes: readonly Note[];
}

/** Sets that are about the patient by their template, or about somebody else by design. */
const NOT_OF_A_SUBJECT: ReadonlySet<string> = new Set(['patient', 'user']);

/** Every set, freed of other patients' resources; those are counted and, if about a hip, reported. */
export function ownSets(sets: ReadonlyMap<string, DataSet>, input: RecordInput): OwnSets {
  const own = new Map<string, DataSet>();
  const findings: DataFinding[] = [];
  const notes: Note[] = [];
  for (const [key, set] of sets) {
    const mine: Located[] = [];
    const others: Located[] = [];
    for (const located of set.resources) {
      (NOT_OF_A_SUBJECT.has(key) || isOwn(located, input.identity) ? mine : others).push(located);
    }
    own.set(key, others.length === 0 ? set : { ...set, resources: mine });
    for (const located of others) {
      const from = nameOf(located);
      notes.push({ from, why: 'another patient' });
      if (mattersForIdentity(located, input.knowledge)) findings.push(strangerFinding(from));
    }
  }
  return { own, findings, notes };
}

function isOwn(located: Located, identity: PatientIdentity): boolean {
  if (located.resource['resourceType'] === 'Appointment') return isLive(located.resource, identity);
  return ownershipOf(located.resource, identity) !== 'other';
}

/** An order, plan or measure of another patient in this patient's record is an identity matter; a stray result is not. */
function mattersForIdentity(located: Located, knowledge: FactKnowledge): boolean {
  const { resource } = located;
  if (resource['status'] === 'entered-in-error') return false;
  switch (resource['resourceType']) {
    case 'Observation': {
      const text = canonicalJson([resource['code'], resource['category']]);
      return (
        text.includes(knowledge.systems.measure) || text.includes(knowledge.systems.group.split('|')[0] ?? '')
      );
    }
    case 'ServiceRequest':
    case 'DeviceRequest':
    case 'QuestionnaireResponse':
      return true;
    default:
      return false;
  }
}

function strangerFinding(from: string): DataFinding {
  const text = 'an order, plan or measure in this record names another patient';
  return { kind: 'other-patient', hip: 'any', construct: 'any', text, from: [from] };
}

/** Keys a client can't always resolve (an encounter, a role): left out, they are no missing data. */
const NEVER_MISSING: ReadonlySet<string> = new Set(['user', 'encounter']);

export function missing(own: ReadonlyMap<string, DataSet>, keys: readonly string[]): readonly string[] {
  return keys.filter((key) => !NEVER_MISSING.has(key) && own.has(key) && own.get(key)?.status !== 'complete');
}

/** The same resource may come under two keys; the version updated last counts. */
export function uniqueResources(all: readonly Located[]): readonly Located[] {
  const byName = new Map<string, Located>();
  for (const located of all) {
    const name = nameOf(located);
    const other = byName.get(name);
    if (!other || isNewer(located.resource, other.resource)) byName.set(name, located);
  }
  return [...byName.entries()].sort(([a], [b]) => compareText(a, b)).map(([, located]) => located);
}

function isNewer(a: JsonObject, b: JsonObject): boolean {
  const updated = (resource: JsonObject): string => asText(asObject(resource['meta'])?.['lastUpdated']) ?? '';
  const order = compareText(updated(a), updated(b));
  return order !== 0 ? order > 0 : compareText(canonicalJson(a), canonicalJson(b)) > 0;
}

export function describeSets(own: ReadonlyMap<string, DataSet>): PatientRecord['sets'] {
  const entries = [...own.entries()].map(([key, set]) => {
    const why = set.status === 'complete' ? {} : { why: set.why };
    return [key, { status: set.status, count: set.resources.length, ...why }] as const;
  });
  return Object.fromEntries(entries);
}

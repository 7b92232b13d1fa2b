import { canonicalJson } from '../base/canonical-json.js';
import { compareText, sortedUnique } from '../base/order.js';
import { bundleEntries, readDataSet } from '../fhir/bundle.js';
import type { DataSet } from '../fhir/bundle.js';
import { asObject, asText } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { nameOf, namesOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import { ownershipOf } from '../fhir/same-patient.js';
import type { PatientIdentity } from '../fhir/same-patient.js';
import { conditionFact, readDiagnoses } from './condition-facts.js';
import type { DiagnosisList } from './condition-facts.js';
import type {
  ConstructKind,
  DataFinding,
  FactDefinition,
  FindingDefinition,
  Hip,
  MeasureDefinition,
  PresenceDefinition,
  Side,
} from './definitions.js';
import type { Fact } from './fact.js';
import { absentFact, NO_PROVENANCE, unknownFact } from './fact.js';
import type { FactKnowledge } from './knowledge.js';
import { laboratoryFact } from './laboratory-facts.js';
import { measureFact, readingsByMeasure } from './measure-facts.js';
import type { MeasureSources } from './measure-facts.js';
import { readObservation } from './observation-reader.js';
import type { HipRecord, PatientRecord } from './patient-record.js';
import { linkPlans } from './plan-linkage.js';
import type { AppointmentOutcome, PlannedOperation, RequestOutcome, RequestReading } from './recognition.js';
import { contextEntries, isLive, readAppointment, readRequest } from './recognition.js';
import type { Note, Reads } from './readings.js';
import { joinReads } from './readings.js';

/** What to read, and for whom. */
export interface RecordInput {
  readonly hook: 'appointment-book' | 'order-sign';
  readonly context: JsonObject;
  readonly prefetch: JsonObject;
  /** The prefetch keys this entry publishes; any other key is not looked at. */
  readonly keys: readonly string[];
  readonly identity: PatientIdentity;
  /** The time of the call, in milliseconds since 1970 UTC. */
  readonly now: number;
  readonly knowledge: FactKnowledge;
  readonly constructs: readonly ConstructKind[];
}

/**
 * Reads the call into facts. Nothing here depends on the order of entries in a Bundle, and nothing throws on the
 * shape of outside data: what cannot be used is noted, refused by name, or reported as a finding.
 */
export function readRecord(input: RecordInput): PatientRecord {
  const sets = ownSets(input);
  const requests = readRequests(input, sets.own);
  const recognition = recognise(input, sets.own, requests);
  const base = {
    operations: recognition.operations,
    sets: describeSets(sets.own),
    unresolved: recognition.unresolved,
  };
  const identityFindings = [...requests.findings, ...sets.findings];
  const speaks = recognition.recognised === 'yes' || requests.findings.length > 0;
  if (!speaks)
    return {
      ...base,
      recognised: recognition.recognised,
      hips: [],
      notes: sortedNotes([...requests.notes, ...sets.notes]),
    };
  const body = readBody(input, sets.own, requests, recognition);
  const findings = [...recognition.findings, ...identityFindings, ...body.findings];
  const hips = hipsOf(recognition.operations);
  return {
    ...base,
    recognised: 'yes',
    hips: hips.flatMap((hip, index) =>
      input.constructs.map((construct) =>
        hipRecord({ hip, construct, first: index === 0 }, findings, body, recognition, input),
      ),
    ),
    notes: sortedNotes([...requests.notes, ...sets.notes, ...body.notes]),
  };
}

interface OwnSets {
  readonly own: ReadonlyMap<string, DataSet>;
  readonly findings: readonly DataFinding[];
  readonly notes: readonly Note[];
}

/** Every published set, freed of other patients' resources; those are counted and, if about a hip, reported. */
function ownSets(input: RecordInput): OwnSets {
  const own = new Map<string, DataSet>();
  const findings: DataFinding[] = [];
  const notes: Note[] = [];
  for (const key of input.keys) {
    const set = readDataSet(input.prefetch, key);
    const mine = set.resources.filter((located) => key === 'patient' || isOwn(located, input.identity));
    const others = set.resources.filter((located) => !mine.includes(located));
    own.set(key, { ...set, resources: mine });
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
  const text = canonicalJson([located.resource['code'], located.resource['category']]);
  return located.resource['resourceType'] === 'Observation'
    ? text.includes(knowledge.systems.measure) || text.includes(knowledge.systems.group.split('|')[0] ?? '')
    : located.resource['resourceType'] === 'ServiceRequest';
}

function strangerFinding(from: string): DataFinding {
  const text = 'an order, plan or measure in this record names another patient';
  return { kind: 'other-patient', hip: 'any', construct: 'any', text, from: [from] };
}

interface Requests {
  /** Orders being drafted or signed now. */
  readonly drafted: readonly RequestReading[];
  /** Every hip order seen, drafted ones first. */
  readonly all: readonly RequestReading[];
  readonly byName: ReadonlyMap<string, RequestOutcome>;
  readonly findings: readonly DataFinding[];
  readonly notes: readonly Note[];
}

function readRequests(input: RecordInput, own: ReadonlyMap<string, DataSet>): Requests {
  const context = { knowledge: input.knowledge, identity: input.identity };
  const drafts =
    input.hook === 'order-sign' ? contextEntries(input.context['draftOrders']) : visitEntries(input);
  const isDraft = input.hook === 'order-sign';
  const draftNames = new Set(drafts.map(nameOf));
  const recorded = (own.get('serviceRequests')?.resources ?? []).filter(
    (located) => !draftNames.has(nameOf(located)),
  );
  const byName = new Map<string, RequestOutcome>();
  const findings: DataFinding[] = [];
  const notes: Note[] = [];
  const read = (located: Located, drafted: boolean): readonly RequestReading[] => {
    const outcome = readRequest(located, drafted, context);
    for (const name of namesOf(located, input.identity.fhirServer)) byName.set(name, outcome);
    if (outcome.kind === 'finding') {
      notes.push(outcome.note);
      // An unreadable order in the background is noted; the one at hand is worth a word.
      if (drafted || outcome.finding.kind === 'other-patient') findings.push(outcome.finding);
    }
    return outcome.kind === 'request' ? [outcome.request] : [];
  };
  const now = drafts.flatMap((located) => read(located, isDraft));
  const before = recorded.flatMap((located) => read(located, false));
  return { drafted: isDraft ? now : [], all: [...now, ...before], byName, findings, notes };
}

/** Requests that came inside the appointment Bundle. */
function visitEntries(input: RecordInput): readonly Located[] {
  return contextEntries(input.context['appointments']).filter(
    ({ resource }) => resource['resourceType'] === 'ServiceRequest',
  );
}

interface Recognition {
  readonly recognised: 'yes' | 'no' | 'unknown';
  readonly operations: readonly PlannedOperation[];
  readonly findings: readonly DataFinding[];
  readonly unresolved: readonly string[];
}

function recognise(input: RecordInput, own: ReadonlyMap<string, DataSet>, requests: Requests): Recognition {
  if (input.hook === 'order-sign') {
    const operations = requests.drafted.filter(({ open }) => open).map(({ operation }) => operation);
    return {
      recognised: operations.length > 0 ? 'yes' : 'no',
      operations: sortOperations(operations),
      findings: [],
      unresolved: [],
    };
  }
  const context = { knowledge: input.knowledge, identity: input.identity };
  const entries = contextEntries(input.context['appointments']);
  const procedures = new Map(
    [...entries, ...(own.get('procedures')?.resources ?? [])].map((located) => [nameOf(located), located]),
  );
  const outcomes: readonly AppointmentOutcome[] = entries
    .filter(({ resource }) => isLive(resource, input.identity))
    .map((located) => readAppointment(located, { requests: requests.byName, procedures }, context));
  const operations = outcomes.flatMap((outcome) => (outcome.kind === 'operation' ? outcome.operations : []));
  const unresolved = sortedUnique(
    outcomes.flatMap((outcome) => (outcome.kind === 'maybe' ? outcome.unresolved : [])),
  );
  return {
    recognised: operations.length > 0 ? 'yes' : unresolved.length > 0 ? 'unknown' : 'no',
    operations: sortOperations(operations),
    findings: outcomes.flatMap((outcome) => (outcome.kind === 'operation' ? outcome.findings : [])),
    unresolved,
  };
}

function sortOperations(operations: readonly PlannedOperation[]): readonly PlannedOperation[] {
  const byName = new Map(operations.map((operation) => [operation.name, operation]));
  return [...byName.values()].sort((a, b) => compareText(a.name, b.name));
}

interface Body {
  readonly measures: MeasureSources;
  readonly diagnoses: DiagnosisList;
  readonly observations: readonly Located[];
  readonly findings: readonly DataFinding[];
  readonly notes: readonly Note[];
}

const MEASURE_SETS = ['measures'];

function readBody(
  input: RecordInput,
  own: ReadonlyMap<string, DataSet>,
  requests: Requests,
  recognition: Recognition,
): Body {
  const observations = uniqueResources([
    ...(own.get('measures')?.resources ?? []),
    ...(own.get('observations')?.resources ?? []),
  ]);
  const context = {
    knowledge: input.knowledge,
    measures: measureDefinitions(input.knowledge.definitions),
    now: input.now,
    fhirServer: input.identity.fhirServer,
  };
  const reads: Reads = joinReads(
    observations
      .filter(({ resource }) => resource['resourceType'] === 'Observation')
      .map((located) => readObservation(located, context)),
  );
  const sides = hipsOf(recognition.operations).filter((hip): hip is Side => hip !== 'unknown');
  const linked = linkPlans(reads.readings, requests.all, sides);
  const conditions = uniqueResources(own.get('conditions')?.resources ?? []);
  const diagnoses = readDiagnoses(
    conditions.filter(({ resource }) => resource['resourceType'] === 'Condition'),
    { knowledge: input.knowledge, now: input.now, setsMissing: missing(own, ['conditions']) },
  );
  return {
    measures: {
      readings: linked.readings,
      byMeasure: readingsByMeasure(linked.readings),
      refusals: reads.refusals,
      setsMissing: missing(own, MEASURE_SETS),
    },
    diagnoses,
    observations,
    findings: [
      ...reads.findings,
      ...linked.findings,
      ...diagnoses.findings,
      ...orderFindings(recognition, linked.readings),
    ],
    notes: [...reads.notes, ...diagnoses.notes],
  };
}

function missing(own: ReadonlyMap<string, DataSet>, keys: readonly string[]): readonly string[] {
  return keys.filter((key) => own.get(key)?.status !== 'complete');
}

/** Orders that contradict themselves about the side, and orders without one although a side was planned. */
function orderFindings(
  recognition: Recognition,
  readings: Body['measures']['readings'],
): readonly DataFinding[] {
  const planned = sortedUnique(
    readings.filter(({ stage }) => stage === 'planned').flatMap(({ sides }) => sides),
  );
  return recognition.operations.flatMap((operation): readonly DataFinding[] => {
    const common = { hip: 'any' as const, construct: 'any' as const, from: [operation.name] };
    if (operation.side.kind === 'conflict') {
      const text = `the order itself says ${operation.side.statements.join(' and ')}`;
      return [{ ...common, kind: 'side-contradiction', text }];
    }
    if (operation.side.kind === 'unknown' && planned.length > 0) {
      const text = `the order states no side; planned values for the ${planned.join(' and ')} hip were not used`;
      return [{ ...common, kind: 'order-side-missing', text }];
    }
    return [];
  });
}

/** The same resource may come under two keys; the version updated last counts. */
function uniqueResources(all: readonly Located[]): readonly Located[] {
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

/** Definitions belong to the rulebook and never change. */
const measuresOf = new WeakMap<readonly FactDefinition[], ReadonlyMap<string, MeasureDefinition>>();

function measureDefinitions(definitions: readonly FactDefinition[]): ReadonlyMap<string, MeasureDefinition> {
  const known = measuresOf.get(definitions);
  if (known) return known;
  const measures = definitions.filter(
    (definition): definition is MeasureDefinition => definition.kind === 'measure',
  );
  const byId = new Map(measures.map((definition) => [definition.id, definition]));
  measuresOf.set(definitions, byId);
  return byId;
}

/** The hips an evaluation speaks of: each side once; an unsided order only when no side is known at all. */
function hipsOf(operations: readonly PlannedOperation[]): readonly Hip[] {
  const sides = sortedUnique(operations.flatMap(({ side }) => (side.kind === 'sides' ? side.sides : [])));
  return sides.length > 0 ? (sides as readonly Side[]) : ['unknown'];
}

interface Place {
  readonly hip: Hip;
  readonly construct: ConstructKind;
  /** Findings that belong to no hip are told once, with the first. */
  readonly first: boolean;
}

function hipRecord(
  place: Place,
  findings: readonly DataFinding[],
  body: Body,
  recognition: Recognition,
  input: RecordInput,
): HipRecord {
  const facts = new Map<string, Fact>();
  const collected: DataFinding[] = findings.filter((finding) => belongs(finding, place));
  const { knowledge } = input;
  for (const definition of knowledge.definitions) {
    switch (definition.kind) {
      case 'measure': {
        const outcome = measureFact(definition, place, body.measures, knowledge);
        facts.set(definition.id, outcome.fact);
        collected.push(...outcome.findings.filter((finding) => belongs(finding, place)));
        break;
      }
      case 'condition':
        facts.set(definition.id, conditionFact(definition, place.hip, body.diagnoses));
        break;
      case 'observation':
        facts.set(definition.id, laboratoryFact(definition, body.observations, input));
        break;
      case 'operation':
        facts.set(definition.id, operationFact(definition.id, place.hip, recognition.operations));
        break;
      case 'presence':
        facts.set(definition.id, presenceFact(definition, place, body));
        break;
      case 'derived':
      case 'finding':
        break;
    }
  }
  const unique = uniqueFindings(collected);
  for (const definition of knowledge.definitions) {
    if (definition.kind === 'finding') facts.set(definition.id, findingFact(definition, unique));
  }
  return { hip: place.hip, construct: place.construct, facts, findings: unique };
}

function belongs(finding: DataFinding, place: Place): boolean {
  if (finding.construct !== 'any' && finding.construct !== place.construct) return false;
  return finding.hip === 'any' ? place.first : finding.hip === place.hip;
}

function uniqueFindings(findings: readonly DataFinding[]): readonly DataFinding[] {
  const byKey = new Map(findings.map((finding) => [canonicalJson(finding), finding]));
  return [...byKey.entries()].sort(([a], [b]) => compareText(a, b)).map(([, finding]) => finding);
}

function operationFact(id: string, hip: Hip, operations: readonly PlannedOperation[]): Fact {
  const here = operations.filter(({ side }) =>
    hip === 'unknown' ? side.kind !== 'sides' : side.kind === 'sides' && side.sides.includes(hip),
  );
  if (here.length === 0) return unknownFact(id, 'not-recorded');
  return {
    id,
    state: { status: 'present', value: { kind: 'code', codes: sortedUnique(here.map(({ kind }) => kind)) } },
    provenance: { from: sortedUnique(here.map(({ name }) => name)) },
    remarks: [],
  };
}

/** Whether something is wrong with the record: present with its texts, absent when nothing was found. */
function findingFact(definition: FindingDefinition, findings: readonly DataFinding[]): Fact {
  const mine = findings.filter((finding) => definition.finds.includes(finding.kind));
  if (mine.length === 0) return absentFact(definition.id);
  return {
    id: definition.id,
    state: { status: 'present', value: { kind: 'recorded', texts: mine.map(({ text }) => text) } },
    provenance: { from: sortedUnique(mine.flatMap(({ from }) => from)) },
    remarks: [],
  };
}

function presenceFact(definition: PresenceDefinition, place: Place, body: Body): Fact {
  if (!hasMeasures(body, place)) return absentFact(definition.id);
  return {
    id: definition.id,
    state: { status: 'present', value: { kind: 'recorded', texts: [definition.title] } },
    provenance: NO_PROVENANCE,
    remarks: [],
  };
}

function hasMeasures(body: Body, place: Place): boolean {
  const ofHip = (sides: readonly Side[]): boolean =>
    sides.length === 0 || (place.hip !== 'unknown' && sides.includes(place.hip));
  return (
    body.measures.readings.some(({ sides }) => ofHip(sides)) ||
    body.measures.refusals.some(({ sides }) => ofHip(sides))
  );
}

function describeSets(own: ReadonlyMap<string, DataSet>): PatientRecord['sets'] {
  const entries = [...own.entries()].map(([key, set]) => {
    const why = set.status === 'complete' ? {} : { why: set.why };
    return [key, { status: set.status, count: set.resources.length, ...why }] as const;
  });
  return Object.fromEntries(entries);
}

function sortedNotes(notes: readonly Note[]): readonly Note[] {
  const byKey = new Map(notes.map((note) => [`${note.from} ${note.why}`, note]));
  return [...byKey.entries()].sort(([a], [b]) => compareText(a, b)).map(([, note]) => note);
}

/** The prefetch Patient, when one was sent: the resource and its full URL. */
export function readPatient(prefetch: JsonObject): Located | undefined {
  const value = asObject(prefetch['patient']);
  if (value?.['resourceType'] === 'Patient') return { resource: value };
  if (value?.['resourceType'] !== 'Bundle') return undefined;
  return bundleEntries(value).find(({ resource }) => resource['resourceType'] === 'Patient');
}

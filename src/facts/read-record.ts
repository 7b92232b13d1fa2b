import { compareText, sortedUnique } from '../base/order.js';
import { bundleEntries } from '../fhir/bundle.js';
import type { DataSet } from '../fhir/bundle.js';
import { asObject } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import type { Located } from '../fhir/references.js';
import type { PatientIdentity } from '../fhir/same-patient.js';
import { readDiagnoses } from './condition-facts.js';
import type { DiagnosisList } from './condition-facts.js';
import type {
  ConstructKind,
  DataFinding,
  FactDefinition,
  MeasureDefinition,
  Side,
  Stage,
} from './definitions.js';
import { hipRecord } from './hip-record.js';
import type { FactKnowledge } from './knowledge.js';
import { readingsByMeasure } from './measure-facts.js';
import type { MeasureSources } from './measure-facts.js';
import { readObservation } from './observation-reader.js';
import { describeSets, missing, ownSets, uniqueResources } from './own-sets.js';
import type { PatientRecord } from './patient-record.js';
import { linkPlans } from './plan-linkage.js';
import { joinReads } from './readings.js';
import type { Note, Reads } from './readings.js';
import { hipsOf, readRequests, recognise } from './recognise.js';
import type { Recognition, Requests } from './recognise.js';

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

export interface Body {
  /** Published sets that were not wholly read. */
  readonly setsMissing: readonly string[];
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
  const setsMissing = missing(own, input.keys);
  const linked = linkPlans(reads.readings, requests.all, sides);
  // Without all open orders nobody can say that a side has none.
  const ordersRead = !setsMissing.includes('serviceRequests');
  const linkFindings = linked.findings.filter(({ kind }) => ordersRead || kind !== 'other-side-plan');
  const conditions = uniqueResources(own.get('conditions')?.resources ?? []);
  const procedures = uniqueResources(own.get('procedures')?.resources ?? []);
  const diagnoses = readDiagnoses(
    {
      conditions: conditions.filter(({ resource }) => resource['resourceType'] === 'Condition'),
      procedures: procedures.filter(({ resource }) => resource['resourceType'] === 'Procedure'),
    },
    { knowledge: input.knowledge, now: input.now, setsMissing: missing(own, ['conditions', 'procedures']) },
  );
  return {
    setsMissing,
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
      ...linkFindings,
      ...diagnoses.findings,
      ...orderFindings(recognition, [...linked.readings, ...reads.refusals]),
    ],
    notes: [...reads.notes, ...linked.notes, ...diagnoses.notes],
  };
}

/** Orders that contradict themselves about the side, and orders without one although a side was planned. */
function orderFindings(
  recognition: Recognition,
  recorded: readonly { readonly stage: Stage | undefined; readonly sides: readonly Side[] }[],
): readonly DataFinding[] {
  const planned = sortedUnique(
    recorded.filter(({ stage }) => stage === 'planned').flatMap(({ sides }) => sides),
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

function sortedNotes(notes: readonly Note[]): readonly Note[] {
  const byKey = new Map(notes.map((note) => [`${note.from} ${note.why}`, note]));
  return [...byKey.entries()].sort(([a], [b]) => compareText(a, b)).map(([, note]) => note);
}

/** The prefetch Patients: one, unless a record system mixed people up. */
export function readPatients(prefetch: JsonObject): readonly Located[] {
  const value = asObject(prefetch['patient']);
  if (value?.['resourceType'] === 'Patient') return [{ resource: value }];
  if (value?.['resourceType'] !== 'Bundle') return [];
  return bundleEntries(value).filter(({ resource }) => resource['resourceType'] === 'Patient');
}

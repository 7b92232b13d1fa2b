import { lazy } from '../base/lazy.js';
import { compareText, sortedUnique } from '../base/order.js';
import { bundleEntries } from '../fhir/bundle.js';
import type { DataSet } from '../fhir/bundle.js';
import { asObject } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { nameOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import { ownershipOf } from '../fhir/same-patient.js';
import type { PatientIdentity } from '../fhir/same-patient.js';
import { silencedHips } from './acute-gate.js';
import { callResources } from './call-resources.js';
import type { CallResources } from './call-resources.js';
import { readDiagnoses } from './condition-facts.js';
import type { DiagnosisList } from './condition-facts.js';
import type { ConstructKind, DataFinding, Hip, Side, Stage } from './definitions.js';
import { deviceRequestPlan } from './device-request-plan.js';
import { hipPlanAnswers, isHipPlan } from './hip-plan-answers.js';
import { hipRecord } from './hip-record.js';
import { implantedDevices } from './implanted-devices.js';
import type { DeviceReads, WornImplant } from './implanted-devices.js';
import { implantedByDiagnosis, sortImplanted } from './implanted.js';
import type { Implanted } from './implanted.js';
import type { FactKnowledge } from './knowledge.js';
import { measureDefinitions } from './measure-definitions.js';
import { readingsByMeasure } from './measure-facts.js';
import type { MeasureSources } from './measure-facts.js';
import { readObservation } from './observation-reader.js';
import { describeSets, missing, ownSets, uniqueResources } from './own-sets.js';
import type { OwnSets } from './own-sets.js';
import type { PatientRecord } from './patient-record.js';
import { linkPlans } from './plan-linkage.js';
import { readProcedureHistory } from './procedure-history.js';
import type { ProcedureHistory } from './procedure-history.js';
import { joinReads } from './readings.js';
import type { Note, Reading, Reads } from './readings.js';
import { hipsOf, implantedHips, recognise } from './recognise.js';
import type { Recognition } from './recognise.js';
import { readRequests } from './requests.js';
import type { SiteDefault } from './site-defaults.js';
import type { SiteMaps } from './site-map-index.js';
import type { Requests } from './requests.js';

/** What to read, and for whom. */
export interface RecordInput {
  readonly hook: 'appointment-book' | 'order-select' | 'order-sign' | 'patient-view';
  readonly context: JsonObject;
  readonly prefetch: JsonObject;
  /** Sets read from the record system itself, in place of keys the client did not send. */
  readonly fetched?: ReadonlyMap<string, DataSet>;
  /** The keys this entry may read; any other key is not looked at. */
  readonly keys: readonly string[];
  /** Keys of what the site never records: not sent, they are empty rather than missing. */
  readonly neverRecorded?: ReadonlySet<string>;
  /** A site's own codes, translated where a resource comes in. */
  readonly maps?: SiteMaps;
  /** What the site usually does, for a plan that does not say. */
  readonly defaults?: readonly SiteDefault[];
  readonly identity: PatientIdentity;
  /** The time of the call, in milliseconds since 1970 UTC. */
  readonly now: number;
  readonly knowledge: FactKnowledge;
}

/** Everything of a call that is looked up once. */
interface Opened {
  readonly input: RecordInput;
  readonly resources: CallResources;
  readonly sets: OwnSets;
  readonly requests: Requests;
  readonly history: ProcedureHistory;
  readonly devices: DeviceReads;
  readonly diagnoses: DiagnosisList;
}

/**
 * Reads the call into facts. Nothing here depends on the order of entries in a Bundle, and nothing throws on the
 * shape of outside data: what cannot be used is noted, refused by name, or reported as a finding.
 */
export function readRecord(input: RecordInput): PatientRecord {
  const resources = callResources(input);
  const sets = ownSets(resources.sets, input);
  const own: CallResources = { ...resources, sets: sets.own };
  const requests = readRequests(input, own);
  // Only the chart is recognised by what is in place; a visit that is no hip visit must cost nothing.
  const early = input.hook === 'patient-view' ? open(input, own, sets, requests) : undefined;
  const recognition = recognise(input, {
    resources: own,
    requests,
    implanted: early ? implantedOf(early) : [],
  });
  const speaks = recognition.recognised === 'yes' || requests.findings.length > 0;
  const notes = [...requests.notes, ...sets.notes];
  const base = {
    operations: recognition.operations,
    implanted: recognition.implanted,
    sets: describeSets(sets.own),
    unresolved: recognition.unresolved,
    leniencies: requests.leniencies,
    users: own.sets.get('user')?.resources ?? [],
    resources: [...own.drafts, ...own.visits, ...[...own.sets.values()].flatMap((set) => set.resources)],
  };
  if (!speaks)
    return {
      ...base,
      recognised: recognition.recognised,
      hips: [],
      silenced: [],
      notes: sortedNotes(notes),
    };
  const opened = early ?? open(input, own, sets, requests);
  return { ...base, recognised: 'yes', ...readHips(opened, recognition, notes) };
}

/** Reads what is not needed to know what the call is about. */
function open(input: RecordInput, resources: CallResources, sets: OwnSets, requests: Requests): Opened {
  const { knowledge } = input;
  const of = (key: string): readonly Located[] => uniqueResources(sets.own.get(key)?.resources ?? []);
  const procedures = of('procedures').filter(({ resource }) => resource['resourceType'] === 'Procedure');
  const devices = implantedDevices(
    { devices: of('devices'), uses: of('deviceUses'), procedures },
    { knowledge, measures: measureDefinitions(knowledge.definitions), fhirServer: input.identity.fhirServer },
  );
  const conditions = of('conditions').filter(({ resource }) => resource['resourceType'] === 'Condition');
  const diagnoses = readDiagnoses(
    { conditions, procedures },
    { knowledge, now: input.now, setsMissing: missing(sets.own, ['conditions', 'procedures']) },
  );
  const history = readProcedureHistory(procedures, { knowledge, now: input.now });
  return { input, resources, sets, requests, history, devices, diagnoses };
}

function implantedOf({ history, devices, diagnoses, input }: Opened): readonly Implanted[] {
  const operated = history.arthroplasties.map(({ name, side, date }): Implanted => ({
    name,
    side,
    by: 'procedure',
    date,
  }));
  return sortImplanted([
    ...operated,
    ...devices.implanted,
    ...implantedByDiagnosis(diagnoses, input.knowledge),
  ]);
}

function readHips(
  opened: Opened,
  recognition: Recognition,
  notes: readonly Note[],
): Pick<PatientRecord, 'hips' | 'notes' | 'silenced'> {
  const { input, requests, sets, history } = opened;
  const body = readBody(opened, recognition);
  const silenced = silencedHips(sets.own, recognition, history.inProgress, input.knowledge);
  const findings = [...recognition.findings, ...requests.findings, ...sets.findings, ...body.findings];
  // A silenced hip is still read: whose it is and which side is told all the same.
  const places = placesOf(recognition);
  return {
    hips: places.map((place, index) => {
      const first = index === 0;
      const firstOfHip = places.findIndex(({ hip }) => hip === place.hip) === index;
      return hipRecord({ ...place, first, firstOfHip }, findings, body, recognition, input);
    }),
    silenced,
    notes: sortedNotes([...notes, ...body.notes]),
  };
}

/** The hips and constructs an evaluation is about: the planned ones first. */
function placesOf(
  recognition: Recognition,
): readonly { readonly hip: Hip; readonly construct: ConstructKind }[] {
  const planned = hipsOf(recognition.operations).map((hip) => ({ hip, construct: 'planned' as const }));
  const inPlace = implantedHips(recognition.implanted).map((hip) => ({
    hip,
    construct: 'in-place' as const,
  }));
  const all = [...planned, ...inPlace];
  // Something is wrong with an order at hand that could not be read: that belongs to a hip nobody can name.
  return all.length > 0 ? all : [{ hip: 'unknown', construct: 'planned' }];
}

export interface Body {
  /** Sets that were not wholly read. */
  readonly setsMissing: readonly string[];
  readonly measures: MeasureSources;
  /** Planned readings of operations done since. */
  readonly carriedOut: readonly Reading[];
  readonly diagnoses: DiagnosisList;
  readonly history: ProcedureHistory;
  /** Implants worn, by what their type says. */
  readonly implants: readonly WornImplant[];
  /** Whatever shows that a hip was replaced; worked out when something asks. */
  readonly implanted: () => readonly Implanted[];
  readonly observations: readonly Located[];
  /** The Patient resource, where it was sent. */
  readonly patient: { readonly resource: JsonObject; readonly name: string } | undefined;
  readonly findings: readonly DataFinding[];
  /** What would be a finding if only the open orders, which were not read, do not settle it. */
  readonly heldBack: readonly DataFinding[];
  readonly notes: readonly Note[];
}

function readBody(opened: Opened, recognition: Recognition): Body {
  const { input, sets, requests, diagnoses, history, devices } = opened;
  const { own } = sets;
  const observed = uniqueResources(
    ['measures', 'localMeasures', 'observations'].flatMap((key) => own.get(key)?.resources ?? []),
  ).filter(({ resource }) => resource['resourceType'] === 'Observation');
  const stated = readMeasures(opened, observed);
  const { reads } = stated;
  const sides = hipsOf(recognition.operations).filter((hip): hip is Side => hip !== 'unknown');
  const setsMissing = missing(own, input.keys);
  const linked = linkPlans(reads.readings, {
    orders: requests.all,
    hips: sides,
    done: history.arthroplasties,
  });
  // Without all open orders nobody can say that a side has none.
  const heldBack = setsMissing.includes('serviceRequests')
    ? linked.findings.filter(({ kind }) => kind === 'other-side-plan')
    : [];
  const linkFindings = linked.findings.filter((finding) => !heldBack.includes(finding));
  return {
    setsMissing,
    measures: {
      readings: linked.readings,
      byMeasure: readingsByMeasure(linked.readings),
      refusals: reads.refusals,
      setsMissing,
    },
    carriedOut: linked.carriedOut,
    diagnoses,
    history,
    implants: devices.worn,
    implanted: lazy(() => implantedOf(opened)),
    observations: observed,
    patient: patientOf(own.get('patient')?.resources ?? []),
    heldBack,
    findings: [
      ...reads.findings,
      ...linkFindings,
      ...diagnoses.findings,
      ...orderFindings(recognition, [...linked.readings, ...reads.refusals]),
    ],
    notes: [
      ...reads.notes,
      ...linked.notes,
      ...diagnoses.notes,
      ...history.notes,
      ...devices.notes,
      ...stated.notes,
    ],
  };
}

function patientOf(resources: readonly Located[]): Body['patient'] {
  const [only, ...others] = resources.filter(({ resource }) => resource['resourceType'] === 'Patient');
  return only && others.length === 0 ? { resource: only.resource, name: nameOf(only) } : undefined;
}

/** Every measure, whatever carried it: Observations, parameters of implant requests, answers, properties of implants. */
function readMeasures(
  { input, resources, sets, requests, devices }: Opened,
  observed: readonly Located[],
): { readonly reads: Reads; readonly notes: readonly Note[] } {
  const { knowledge } = input;
  const measures = measureDefinitions(knowledge.definitions);
  const { fhirServer } = input.identity;
  const of = (key: string): readonly Located[] => sets.own.get(key)?.resources ?? [];
  const drafts = resources.drafts.filter((located) => isOwnImplantOrder(located, input.identity));
  const implantOrders = uniqueResources([...drafts, ...of('deviceRequests')]);
  const { all: known, atHand } = requests;
  const drafted = new Set(drafts.map(nameOf));
  const plan = { knowledge, measures, requests: known, atHand, drafted, fhirServer };
  const ordered = deviceRequestPlan(implantOrders, plan);
  const responses = uniqueResources(of('questionnaireResponses'));
  const answered = hipPlanAnswers(responses, plan);
  const context = {
    knowledge,
    measures,
    now: input.now,
    fhirServer,
    plansRead: new Set(responses.filter(({ resource }) => isHipPlan(resource)).map(nameOf)),
    inferredSides: ordered.inferredSides,
  };
  const all = [...observed, ...ordered.observations, ...answered.observations, ...devices.observations];
  return {
    reads: joinReads(all.map((located) => readObservation(located, context))),
    notes: [...ordered.notes, ...answered.notes],
  };
}

/** What is being signed must name the patient: nobody else's plan is read, nor one that may be anybody's. */
function isOwnImplantOrder({ resource }: Located, identity: PatientIdentity): boolean {
  return resource['resourceType'] === 'DeviceRequest' && ownershipOf(resource, identity) === 'same';
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

import type { Issue } from '../base/result.js';
import { issue } from '../base/result.js';
import type { ComputationTable } from '../engine/computation.js';
import type { Decide } from '../engine/decide.js';
import { evaluate } from '../engine/evaluate.js';
import type { EngineFault, HipEvaluation } from '../engine/evaluate.js';
import type { DataSet } from '../fhir/bundle.js';
import { asText, objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import type { PatientIdentity } from '../fhir/same-patient.js';
import { namesPatient } from '../fhir/same-patient.js';
import { referenceOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import type { PatientRecord } from '../facts/patient-record.js';
import { audienceOf } from '../facts/audience.js';
import type { Audience } from '../facts/audience.js';
import { readPatients, readRecord } from '../facts/read-record.js';
import type { RecordInput } from '../facts/read-record.js';
import type { Card } from '../render/card-types.js';
import type { Mode, Stated } from '../rulebook/governance.js';
import type { Site } from '../rulebook/site.js';
import type { Entry, Rulebook } from '../rulebook/types.js';
import type { Evaluation } from './evaluation.js';
import { localAdvisor } from './local-advisor.js';
import { neverRecorded } from './never-recorded.js';
import { allKeys, siteServiceId } from './services.js';
import type { Service } from './services.js';
import { statesOf } from './states.js';
import type { LocalParameter } from './states.js';
import { tell } from './tell.js';
import type { Kept, PageOnly, Told } from './tell.js';

/** One call, with everything it depends on: there is no clock, randomness, disk or network below this line. */
export interface AdviceInput {
  readonly service: Service;
  readonly hookInstance: string;
  readonly patientId: string;
  readonly userId: string;
  readonly context: JsonObject;
  readonly prefetch: JsonObject;
  /** Sets read from the record system itself, in place of keys the client did not send. */
  readonly fetched?: ReadonlyMap<string, DataSet>;
  readonly fhirServer?: string;
  /** The authenticated client; `-` where calls are not authenticated. */
  readonly iss: string;
  /** The time of the call as an ISO 8601 instant. */
  readonly now: string;
  readonly engine: string;
  /** Where clients reach the service: cards link to what is behind them there. */
  readonly publicUrl?: string;
  /** What this patient's readers have answered before, by acknowledgement hash. */
  readonly acknowledged?: ReadonlySet<string>;
  /** The installation: its own codes, usual choices, sources, readers and decisions. */
  readonly site?: Site;
  /**
   * Goes into every name that follows from what is known of a patient (the evaluation, an acknowledgement): names are
   * kept, and without a secret whoever reads them could try out which values they were made of.
   */
  readonly nameSecret?: string;
  /** In production only what a site signed and named speaks; `development` when left out. */
  readonly mode?: Mode;
}

/** The knowledge and machinery advice is made with. */
export interface Advisor {
  readonly rulebook: Rulebook;
  readonly decide: Decide;
  readonly computations: ComputationTable;
}

export type Advice =
  | {
      readonly kind: 'answer';
      readonly cards: readonly Card[];
      /**
       * Writes down everything that was found: the same value at every call. Undefined when the call was not about a
       * hip operation, or not from a professional.
       */
      readonly evaluation?: () => Evaluation;
      /** The id of that evaluation, without writing it down. */
      readonly evaluationId?: () => string;
      readonly hips: readonly HipEvaluation[];
      readonly record?: PatientRecord;
      /** Cards that were not shown, and why. */
      readonly kept: readonly Kept[];
      /** What only a page tells, worded when asked for; undefined where there is no evaluation. */
      readonly pageOnly?: () => PageOnly;
      readonly audience?: Audience;
      /** Set when the user is a patient or relative: advice is for professionals. */
      readonly layUser?: true;
      /** Set where the installation turned this service off: nothing was evaluated. */
      readonly off?: true;
      /** Set where the installation keeps this service silent: why. */
      readonly silent?: Stated['why'];
      /** The cards a silent service would have shown. */
      readonly withheld?: readonly Card[];
      /** Limits that were the installation's own. */
      readonly parameters?: readonly LocalParameter[];
      readonly faults: readonly EngineFault[];
      /** What `advise` answers to the same call with these as `acknowledged`; nothing is read or decided again. */
      readonly answeredBy?: (acknowledged: ReadonlySet<string>) => Answer;
    }
  | { readonly kind: 'refused' | 'unobtainable'; readonly issues: readonly Issue[] };

const NOTHING = { kind: 'answer', cards: [], hips: [], kept: [], faults: [] } as const;

/**
 * From one call to cards: who is it about → what is recorded → what do the rules say → how is it told.
 * Server, command line, page and tests all come through here. Whoever has read the record of the call before says how,
 * so that it is not read again.
 */
export async function advise(
  input: AdviceInput,
  advisor: Advisor,
  open: OpenRecord = openRecord,
): Promise<Advice> {
  const states = statesOf(input, advisor.rulebook);
  if (states.service.state === 'off') return { ...NOTHING, off: true };
  const opened = open(input, advisor.rulebook);
  if (opened.kind !== 'record') return opened;
  const { record } = opened;
  if (record.recognised === 'unknown')
    return { kind: 'unobtainable', issues: [undecidedIssue(record, input)] };
  const audience = audienceFor(input, record, advisor.rulebook);
  if (record.hips.length === 0 || audience === 'not-listed') return { ...NOTHING, record, audience };
  const telling = tellingEntry(input.service, audience);
  const { hook } = input.service;
  const local = localAdvisor(advisor, { site: input.site, hook, now: input.now });
  const engine = { ...local, record, entry: telling };
  const { hips, faults } = await evaluate(engine);
  return answerOf(tell({ hips, faults, record, telling, states }, input, local), record, audience);
}

type Answer = Extract<Advice, { kind: 'answer' }>;

function answerOf({ toldTo, ...told }: Told, record: PatientRecord, audience: Audience): Answer {
  const answeredBy = (acknowledged: ReadonlySet<string>): Answer =>
    answerOf(toldTo(acknowledged), record, audience);
  return { kind: 'answer', ...told, record, audience, answeredBy };
}

function audienceFor({ site, service }: AdviceInput, record: PatientRecord, rulebook: Rulebook): Audience {
  return audienceOf(record.users, site?.audience.get(siteServiceId(service)), rulebook.knowledge.aliases);
}

/**
 * Whoever books is not known to be a clinician: the finding and the missing work-up are told, no options or numbers.
 * Where the site lists who books, those read what a surgeon would.
 */
function tellingEntry({ hook }: Service, audience: Audience): Entry {
  return hook === 'appointment-book' && audience === 'listed' ? 'order-sign' : hook;
}

/** What is known of the call before any rule is asked; whoever fetches missing sets needs no more. */
export type OpenedRecord = { readonly kind: 'record'; readonly record: PatientRecord } | Advice;

export type OpenRecord = (input: AdviceInput, rulebook: Rulebook) => OpenedRecord;

/**
 * Reads the record of a call once: whoever fetches what is missing asks what the call is about, and then asks for advice.
 * Made for one call, and gone with it.
 */
export function openingOnce(): OpenRecord {
  let last:
    { readonly input: AdviceInput; readonly rulebook: Rulebook; readonly opened: OpenedRecord } | undefined;
  return (input, rulebook) => {
    if (last?.input !== input || last.rulebook !== rulebook)
      last = { input, rulebook, opened: openRecord(input, rulebook) };
    return last.opened;
  };
}

/** Reads the record of one call: refused for another patient, empty for a lay user. */
export function openRecord(input: AdviceInput, rulebook: Rulebook): OpenedRecord {
  const identity = identityOf(input);
  const stranger = strangerIssue(input, identity);
  if (stranger) return { kind: 'refused', issues: [stranger] };
  if (isLayUser(input.userId)) return { ...NOTHING, layUser: true };
  const record = readRecord({
    hook: input.service.hook,
    context: input.context,
    prefetch: input.prefetch,
    ...(input.fetched && { fetched: input.fetched }),
    keys: allKeys(input.service, input.site?.measureCodes ?? []),
    ...siteReading(input.site, input.service),
    identity,
    now: Date.parse(input.now),
    knowledge: rulebook.knowledge,
  });
  return { kind: 'record', record };
}

/** What the site adds to reading a record. */
function siteReading(
  site: Site | undefined,
  service: Service,
): Partial<Pick<RecordInput, 'maps' | 'defaults' | 'neverRecorded'>> {
  if (!site) return {};
  return { maps: site.maps, defaults: site.defaults, neverRecorded: neverRecorded(service, site) };
}

function identityOf(input: AdviceInput): PatientIdentity {
  const own = patientsOf(input).find(({ resource }) => asText(resource['id']) === input.patientId);
  const fullUrl = own?.fullUrl;
  return {
    patientId: input.patientId,
    ...(input.fhirServer !== undefined && { fhirServer: input.fhirServer }),
    ...(fullUrl !== undefined && { fullUrl }),
  };
}

/** The Patients that came with the call, or were read for it. */
function patientsOf({ prefetch, fetched }: AdviceInput): readonly Located[] {
  return fetched?.get('patient')?.resources ?? readPatients(prefetch);
}

/** A prefetch Patient that is somebody else stops everything; a merged record is told apart. */
function strangerIssue(input: AdviceInput, identity: PatientIdentity): Issue | undefined {
  const others = patientsOf(input).filter(({ resource }) => asText(resource['id']) !== identity.patientId);
  const patient = others[0]?.resource;
  if (!patient) return undefined;
  const merged = objectsIn(patient['link']).some((link) => {
    const other = referenceOf(link['other']);
    return other !== undefined && namesPatient(other, identity);
  });
  const found = merged ? 'a patient record merged with it' : 'another patient';
  return issue(
    merged ? 'merged-patient' : 'wrong-patient',
    'prefetch.patient',
    `expected the patient of context.patientId, found ${found}`,
  );
}

/** Advice is for professionals: a booking or chart opened by the patient or a relative gets none. */
function isLayUser(userId: string): boolean {
  return userId.startsWith('Patient/') || userId.startsWith('RelatedPerson/');
}

function undecidedIssue(record: PatientRecord, { service }: AdviceInput): Issue {
  if (service.hook === 'patient-view') {
    const message =
      'cannot tell whether this patient has or will have a hip replacement: expected one of serviceRequests, procedures and conditions, could read none';
    return issue('data-unobtainable', 'prefetch', message);
  }
  const count = record.unresolved.length;
  const message = `cannot tell whether this visit is a hip replacement: ${count} ${count === 1 ? 'reference' : 'references'} of the appointment could not be followed; send the serviceRequests and procedures prefetch`;
  return issue('data-unobtainable', 'context.appointments', message);
}

import { lazy } from '../base/lazy.js';
import type { Issue } from '../base/result.js';
import { issue } from '../base/result.js';
import type { ComputationTable } from '../engine/computations.js';
import type { Decide } from '../engine/decide.js';
import { evaluate } from '../engine/evaluate.js';
import type { Advisory, EngineFault, HipEvaluation } from '../engine/evaluate.js';
import { asText, objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import type { PatientIdentity } from '../fhir/same-patient.js';
import { namesPatient } from '../fhir/same-patient.js';
import { referenceOf } from '../fhir/references.js';
import type { PatientRecord } from '../facts/patient-record.js';
import { readPatients, readRecord } from '../facts/read-record.js';
import { advisoryCard, sortCards } from '../render/card.js';
import type { Card, CardContext } from '../render/card-types.js';
import { dataGapCard, findDataGap } from '../render/data-gap-card.js';
import type { Rule, Rulebook } from '../rulebook/types.js';
import { evaluationId, writeEvaluation } from './evaluation.js';
import type { Evaluation } from './evaluation.js';
import type { Service } from './services.js';

/** One call, with everything it depends on: there is no clock, randomness, disk or network below this line. */
export interface AdviceInput {
  readonly service: Service;
  readonly hookInstance: string;
  readonly patientId: string;
  readonly userId: string;
  readonly context: JsonObject;
  readonly prefetch: JsonObject;
  readonly fhirServer?: string;
  /** The authenticated client; `-` where calls are not authenticated. */
  readonly iss: string;
  /** The time of the call as an ISO 8601 instant. */
  readonly now: string;
  readonly engine: string;
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
      readonly hips: readonly HipEvaluation[];
      readonly record?: PatientRecord;
      /** Set when the user is a patient or relative: advice is for professionals. */
      readonly layUser?: true;
      readonly faults: readonly EngineFault[];
    }
  | { readonly kind: 'refused' | 'unobtainable'; readonly issues: readonly Issue[] };

/**
 * From one call to cards: who is it about → what is recorded → what do the rules say → how is it told.
 * Server, command line, page and tests all come through here.
 */
export async function advise(input: AdviceInput, advisor: Advisor): Promise<Advice> {
  const identity = identityOf(input);
  const stranger = strangerIssue(input, identity);
  if (stranger) return { kind: 'refused', issues: [stranger] };
  if (isLayUser(input.userId)) return { kind: 'answer', cards: [], hips: [], faults: [], layUser: true };
  const record = readRecord({
    hook: input.service.hook,
    context: input.context,
    prefetch: input.prefetch,
    keys: input.service.keys,
    identity,
    now: Date.parse(input.now),
    knowledge: advisor.rulebook.knowledge,
    constructs: ['planned'],
  });
  if (record.recognised === 'unknown') return { kind: 'unobtainable', issues: [undecidedIssue(record)] };
  if (record.hips.length === 0) return { kind: 'answer', cards: [], hips: [], record, faults: [] };
  const engine = {
    record,
    rulebook: advisor.rulebook,
    entry: input.service.hook,
    decide: advisor.decide,
    computations: advisor.computations,
  };
  const { hips, faults } = await evaluate(engine);
  const told = tell(hips, faults, record, input, advisor);
  return { kind: 'answer', ...told, record };
}

function identityOf(input: AdviceInput): PatientIdentity {
  const own = readPatients(input.prefetch).find(({ resource }) => asText(resource['id']) === input.patientId);
  const fullUrl = own?.fullUrl;
  return {
    patientId: input.patientId,
    ...(input.fhirServer !== undefined && { fhirServer: input.fhirServer }),
    ...(fullUrl !== undefined && { fullUrl }),
  };
}

/** A prefetch Patient that is somebody else stops everything; a merged record is told apart. */
function strangerIssue(input: AdviceInput, identity: PatientIdentity): Issue | undefined {
  const others = readPatients(input.prefetch).filter(
    ({ resource }) => asText(resource['id']) !== identity.patientId,
  );
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

function undecidedIssue(record: PatientRecord): Issue {
  const count = record.unresolved.length;
  const message = `cannot tell whether this visit is a hip replacement: ${count} ${count === 1 ? 'reference' : 'references'} of the appointment could not be followed; send the serviceRequests and procedures prefetch`;
  return issue('data-unobtainable', 'context.appointments', message);
}

interface Told {
  readonly cards: readonly Card[];
  readonly evaluation: () => Evaluation;
  readonly hips: readonly HipEvaluation[];
  readonly faults: readonly EngineFault[];
}

function tell(
  hips: readonly HipEvaluation[],
  faults: readonly EngineFault[],
  record: PatientRecord,
  input: AdviceInput,
  advisor: Advisor,
): Told {
  const { rulebook } = advisor;
  const entry = input.service.hook;
  const speaking = rulebook.rules.filter((rule) => rule.entries.includes(entry));
  const found = {
    call: [input.iss, input.service.id, input.hookInstance, input.patientId],
    entry,
    now: input.now,
    engine: input.engine,
    rulebook,
    record,
    hips,
    computations: advisor.computations,
  };
  // Most answers have no card, so nobody asks for the evaluation's name.
  const id = lazy(() => evaluationId(found));
  const context: CardContext = {
    rulebook,
    entry,
    service: input.service.id,
    hookInstance: input.hookInstance,
    iss: input.iss,
    evaluation: id,
    evaluatedAt: input.now,
    engine: input.engine,
  };
  const rendered = renderAll(speaking, hips, context);
  const shown = rendered.hips;
  const gap = findDataGap(shown, new Set(speaking.map(({ id }) => id)), record.sets);
  const cards = [...rendered.cards, ...(gap ? [dataGapCard(gap, shown, context)] : [])];
  const evaluation = (): Evaluation => writeEvaluation({ ...found, hips: shown }, id());
  return { cards: sortCards(cards), evaluation, hips: shown, faults: [...faults, ...rendered.faults] };
}

/** A card whose wording can't be filled makes its rule "could not be evaluated"; the other cards stand. */
function renderAll(
  rules: readonly Rule[],
  hips: readonly HipEvaluation[],
  context: CardContext,
): Pick<Told, 'cards' | 'hips' | 'faults'> {
  const cards: Card[] = [];
  const faults: EngineFault[] = [];
  const shown = hips.map((hip) => {
    const advisories = hip.advisories.map((advisory): Advisory => {
      const rule = rules.find(({ id }) => id === advisory.rule);
      if (!rule || advisory.outcome !== 'fires') return advisory;
      try {
        cards.push(advisoryCard(rule, advisory, hip, context));
        return advisory;
      } catch (error) {
        faults.push({ rule: rule.id, hip: hip.hip, construct: hip.construct, error });
        return { ...advisory, outcome: 'cannot-tell', broken: true };
      }
    });
    return { ...hip, advisories };
  });
  return { cards, hips: shown, faults };
}

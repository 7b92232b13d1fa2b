import { advise } from '../../src/advice/index.js';
import { withoutProvenance } from '../../src/advice/index.js';
import { canonicalJson } from '../../src/base/canonical-json.js';
import type { JsonObject } from '../../src/fhir/json.js';
import type { Answer } from './patients.js';
import { advisor, NOW, service } from './patients.js';
import type { PlanSide } from './plan.js';

/** One plan, and the three ways in which a record may state it. */

const BASE = 'https://kotyle.example/fhir/CodeSystem';
const MEASURE = `${BASE}/hip-measure`;
const VALUE = `${BASE}/hip-measure-value`;
const SNOMED = 'http://snomed.info/sct';
const SITES = { left: '287679003', right: '287579007' } as const;
const QUESTIONNAIRE = 'https://kotyle.example/fhir/Questionnaire/hip-plan';

export const SUBJECT = { reference: 'Patient/patient-1' };
export const BASED_ON = [{ reference: 'ServiceRequest/order-1' }];
/** The day every carrier of a plan is dated by. */
export const PLANNED_ON = '2026-11-02';

/** What is planned for one measure: `[value, UCUM unit]`, a code of ours, a flag, or a `value[x]` member as it stands. */
export type Planned = readonly [number, string] | string | boolean | JsonObject;
/** A measure that repeats stands in the list several times. */
export type Plan = readonly (readonly [measure: string, value: Planned])[];

export function concept(system: string, code: string): JsonObject {
  return { coding: [{ system, code }] };
}

/** The `value[x]` member of R4 Observation; parameters of a DeviceRequest have the same ones. */
function valueOf(planned: Planned): JsonObject {
  if (typeof planned === 'string') return { valueCodeableConcept: concept(VALUE, planned) };
  if (typeof planned === 'boolean') return { valueBoolean: planned };
  if (!isQuantity(planned)) return planned;
  const [value, code] = planned;
  return { valueQuantity: { value, unit: code, system: 'http://unitsofmeasure.org', code } };
}

function isQuantity(planned: readonly [number, string] | JsonObject): planned is readonly [number, string] {
  return Array.isArray(planned);
}

/** A DeviceRequest means these without saying so (integration decisions §1); the others have to say so. */
const ANGLES: ReadonlySet<string> = new Set(['cup-inclination', 'cup-anteversion']);
const QUALIFIERS = { 'angle-definition': 'radiographic', 'reference-plane': 'app' } as const;

export function asObservations(plan: Plan, side: PlanSide, more: JsonObject = {}): readonly JsonObject[] {
  return plan.map(([measure, planned], index) => ({
    resourceType: 'Observation',
    id: `planned-${index}`,
    status: 'preliminary',
    basedOn: BASED_ON,
    category: [
      concept(`${BASE}/measure-stage`, 'planned'),
      concept(`${BASE}/measure-group`, 'hip-stability'),
    ],
    code: concept(MEASURE, measure),
    subject: SUBJECT,
    effectiveDateTime: PLANNED_ON,
    bodySite: concept(SNOMED, SITES[side]),
    ...valueOf(planned),
    ...(ANGLES.has(measure) && {
      component: Object.entries(QUALIFIERS).map(([name, code]) => ({
        code: concept(MEASURE, name),
        valueCodeableConcept: concept(VALUE, code),
      })),
    }),
    ...more,
  }));
}

/** `side` undefined: the request does not say. */
export function asDeviceRequest(plan: Plan, side: PlanSide | undefined, more: JsonObject = {}): JsonObject {
  const stated = plan.map(([measure, planned]) => ({ code: concept(MEASURE, measure), ...valueOf(planned) }));
  const hipSide = side && { code: concept(MEASURE, 'hip-side'), valueCodeableConcept: concept(VALUE, side) };
  return {
    resourceType: 'DeviceRequest',
    id: 'implants-1',
    status: 'draft',
    intent: 'order',
    codeCodeableConcept: concept(SNOMED, '304120007'),
    subject: SUBJECT,
    basedOn: BASED_ON,
    authoredOn: PLANNED_ON,
    parameter: [...(hipSide ? [hipSide] : []), ...stated],
    ...more,
  };
}

export function asQuestionnaireResponse(
  plan: Plan,
  side: PlanSide | undefined,
  more: JsonObject = {},
): JsonObject {
  return {
    resourceType: 'QuestionnaireResponse',
    id: 'plan-1',
    questionnaire: QUESTIONNAIRE,
    status: 'completed',
    subject: SUBJECT,
    basedOn: BASED_ON,
    authored: PLANNED_ON,
    item: [hipGroup(plan, side)],
    ...more,
  };
}

export function hipGroup(plan: Plan, side: PlanSide | undefined): JsonObject {
  const measures = [...new Set(plan.map(([measure]) => measure))];
  return {
    linkId: 'hip',
    item: [
      ...(side ? [codedItem('hip.side', side)] : []),
      codedItem('hip.angle-definition', QUALIFIERS['angle-definition']),
      codedItem('hip.reference-plane', QUALIFIERS['reference-plane']),
      ...measures.map((linkId) => ({
        linkId,
        answer: plan.filter(([measure]) => measure === linkId).map(([, planned]) => answerOf(planned)),
      })),
    ],
  };
}

function codedItem(linkId: string, code: string): JsonObject {
  return { linkId, answer: [{ valueCoding: { system: VALUE, code } }] };
}

/** R4 answers have codings where Observation has concepts; everything else is called the same. */
function answerOf(planned: Planned): JsonObject {
  return typeof planned === 'string' ? { valueCoding: { system: VALUE, code: planned } } : valueOf(planned);
}

export function replacementOrder(side: PlanSide, more: JsonObject = {}): JsonObject {
  return {
    resourceType: 'ServiceRequest',
    id: 'order-1',
    status: 'draft',
    intent: 'order',
    code: concept(SNOMED, '52734007'),
    bodySite: [concept(SNOMED, SITES[side])],
    subject: SUBJECT,
    ...more,
  };
}

export function bundleOf(type: 'searchset' | 'collection', resources: readonly JsonObject[]): JsonObject {
  return { resourceType: 'Bundle', type, entry: resources.map((resource) => ({ resource })) };
}

/** What is signed, and what is on record beside it. */
export interface Signing {
  readonly drafts: readonly JsonObject[];
  readonly measures?: readonly JsonObject[];
  readonly deviceRequests?: readonly JsonObject[];
  readonly questionnaireResponses?: readonly JsonObject[];
  readonly conditions?: readonly JsonObject[];
  readonly serviceRequests?: readonly JsonObject[];
}

export async function sign({ drafts, ...sets }: Signing): Promise<Answer> {
  const of = (key: keyof typeof sets): JsonObject => bundleOf('searchset', sets[key] ?? []);
  const advice = await advise(
    {
      service: service('order-sign'),
      hookInstance: 'd1577c69-dfbe-44ad-ba6d-3e05e953b2ea',
      patientId: 'patient-1',
      userId: 'Practitioner/surgeon-1',
      context: { draftOrders: bundleOf('collection', drafts) },
      prefetch: {
        patient: { resourceType: 'Patient', id: 'patient-1' },
        conditions: of('conditions'),
        procedures: bundleOf('searchset', []),
        measures: of('measures'),
        observations: bundleOf('searchset', []),
        devices: bundleOf('searchset', []),
        deviceUses: bundleOf('searchset', []),
        serviceRequests: of('serviceRequests'),
        deviceRequests: of('deviceRequests'),
        questionnaireResponses: of('questionnaireResponses'),
      },
      iss: '-',
      now: NOW,
      engine: '0.1.0',
    },
    advisor,
  );
  if (advice.kind !== 'answer') throw new Error(`expected an answer, got ${advice.kind}`);
  return advice;
}

/** Everything that was found, written down in canonical form without where it came from. */
export function substance(answer: Answer): string {
  if (!answer.evaluation) throw new Error('nothing was evaluated');
  return canonicalJson(withoutProvenance(answer.evaluation()));
}

export function rulesOf(answer: Answer): readonly string[] {
  return answer.cards.map((card) => `${card.indicator} ${card.source.topic.code}`);
}

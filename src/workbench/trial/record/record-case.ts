import { SERVICES } from '../../../advice/index.js';
import type { AdviceInput, Hook } from '../../../advice/index.js';
import { bundleEntries } from '../../../fhir/bundle.js';
import { asObject, asText } from '../../../fhir/json.js';
import type { JsonObject } from '../../../fhir/json.js';
import { nameOf } from '../../../fhir/references.js';
import type { Located } from '../../../fhir/references.js';
import type { Checked } from '../../checked-file.js';
import { TRIED_HOOKS } from '../../test-patients.js';
import type { Expectation, ExpectedCard, TestPatient } from '../../test-patients.js';
import { ask, runCase } from '../run-case.js';
import type { TrialSetting } from '../run-case.js';
import { cardsOf } from '../verdict.js';
import { leftOver } from './left-over.js';
import { withoutIdentifiers } from './remove-identifiers.js';
import { shiftedDate } from './shift-date.js';

export interface RecordInput {
  /** A CDS Hooks request, or a Bundle of one patient. */
  readonly source: JsonObject;
  readonly name: string;
  readonly teaches: string;
  /** When the call was made, an ISO 8601 instant. */
  readonly at: string;
  readonly shiftDays: number;
  readonly setting: TrialSetting;
}

/** A recorded test patient, and what its answer lost or gained with the identifiers. */
export interface Recorded {
  readonly patient: TestPatient;
  /** Hooks whose cards are not those of the source; whoever reviews the case must know. */
  readonly changed: readonly {
    readonly hook: Hook;
    readonly before: readonly string[];
    readonly after: readonly string[];
  }[];
}

/**
 * Makes a test patient of a request: identifiers removed, dates moved, its cards as answered now written down as what
 * is expected. The truth is `recorded` until somebody has judged it.
 */
export async function recordCase(input: RecordInput): Promise<Checked<Recorded>> {
  const { source, name, at, shiftDays, teaches } = input;
  const opened = openSource(source);
  if (!opened.ok) return opened;
  const { bundle, hooks, fhirServer, call } = opened.value;
  const now = shiftedDate(at, shiftDays);
  if (now === undefined) return fault(`expected the time of the call as an instant, found ${at}`);
  const cleaned = withoutIdentifiers(bundle, {
    name,
    shiftDays,
    ...(fhirServer !== undefined && { fhirServer }),
  });
  const left = leftOver(cleaned, source);
  if (left.length > 0)
    return fault(
      `an identifier of the source stands where a code or number should, and was not written: ${left.join(', ')}`,
    );
  const answers = await answersAt(hooks, cleaned, now, input);
  if (!answers.ok) return answers;
  const before = await answersBefore(hooks, bundle, call, input);
  const expected: Expectation = { teaches, truth: 'recorded', now, cards: Object.fromEntries(answers.value) };
  const changed = answers.value.flatMap(([hook, cards]) => {
    const [was, is] = [linesOf(before.get(hook) ?? []), linesOf(cards)];
    return was.join() === is.join() ? [] : [{ hook, before: was, after: is }];
  });
  return { ok: true, value: { patient: { name, bundle: cleaned, expected }, changed } };
}

interface Opened {
  readonly bundle: JsonObject;
  /** The hooks to record; of a request its own. */
  readonly hooks: readonly Hook[];
  readonly fhirServer?: string;
  /** The request itself, when it is one. */
  readonly call?: { readonly hook: Hook; readonly context: JsonObject; readonly prefetch: JsonObject };
}

function openSource(source: JsonObject): Checked<Opened> {
  if (source['resourceType'] === 'Bundle')
    return { ok: true, value: { bundle: source, hooks: ['appointment-book', 'order-sign', 'patient-view'] } };
  const hook = TRIED_HOOKS.find((known) => known === source['hook']);
  const context = asObject(source['context']);
  if (!hook || !context)
    return fault(
      `expected a Bundle, or a CDS Hooks request with hook (${TRIED_HOOKS.join(', ')}) and context`,
    );
  const prefetch = asObject(source['prefetch']) ?? {};
  const fhirServer = asText(source['fhirServer']);
  const value = {
    bundle: bundleOf(context, prefetch),
    hooks: [hook],
    ...(fhirServer !== undefined && { fhirServer }),
    call: { hook, context, prefetch },
  };
  return { ok: true, value };
}

const OPEN: ReadonlySet<unknown> = new Set(['active', 'on-hold']);

/** Everything a request carries, as one Bundle: what is acted on first, each resource once. */
function bundleOf(context: JsonObject, prefetch: JsonObject): JsonObject {
  const acted = ['draftOrders', 'appointments'].flatMap((key) => entriesIn(context[key]));
  const recorded = Object.values(prefetch).flatMap(entriesIn);
  const all = [...acted.map(asDraft), ...recorded];
  const unique = new Map(all.toReversed().map((located) => [nameOf(located), located]));
  return { resourceType: 'Bundle', type: 'collection', entry: [...unique.values()].reverse() };
}

function entriesIn(value: unknown): readonly Located[] {
  const resource = asObject(value);
  if (resource === undefined || asText(resource['resourceType']) === undefined) return [];
  return resource['resourceType'] === 'Bundle' ? bundleEntries(resource) : [{ resource }];
}

/** What was being signed is what a test patient signs, whatever status the record system gave it meanwhile. */
function asDraft(located: Located): Located {
  const { resource } = located;
  return OPEN.has(resource['status']) && resource['resourceType'] !== 'Appointment'
    ? { ...located, resource: { ...resource, status: 'draft' } }
    : located;
}

type Answered = readonly (readonly [Hook, readonly ExpectedCard[]])[];

async function answersAt(
  hooks: readonly Hook[],
  bundle: JsonObject,
  now: string,
  { name, teaches, setting }: RecordInput,
): Promise<Checked<Answered>> {
  const answers: (readonly [Hook, readonly ExpectedCard[]])[] = [];
  for (const hook of hooks) {
    const expects = { kind: 'cards', cards: [] } as const;
    const run = await runCase({ name, hook, bundle, now, teaches, expects }, setting);
    if (run.answer) answers.push([hook, cardsOf(run.answer)]);
    else if (run.input) return fault(`no answer at ${hook}: ${run.why ?? 'no reason given'}`);
  }
  if (answers.length === 0)
    return fault('expected something to book, to sign or to open the chart of, found nothing');
  return { ok: true, value: answers };
}

/** The cards of the source itself, to tell what removing identifiers changed. */
async function answersBefore(
  hooks: readonly Hook[],
  bundle: JsonObject,
  call: Opened['call'],
  input: RecordInput,
): Promise<ReadonlyMap<Hook, readonly ExpectedCard[]>> {
  if (!call) {
    const answers = await answersAt(hooks, bundle, input.at, input);
    return new Map(answers.ok ? answers.value : []);
  }
  const { answer } = await ask(callInput(call, input), input.setting.advisor);
  return new Map(answer ? [[call.hook, cardsOf(answer)]] : []);
}

function callInput(
  { hook, context, prefetch }: NonNullable<Opened['call']>,
  { at, source, setting: { engine, site } }: RecordInput,
): AdviceInput {
  const service = SERVICES.find((one) => one.hook === hook);
  if (!service) throw new TypeError(`no service for ${hook}`);
  const fhirServer = asText(source['fhirServer']);
  return {
    service,
    hookInstance: '',
    patientId: asText(context['patientId']) ?? '',
    userId: asText(context['userId']) ?? '',
    context,
    prefetch,
    ...(fhirServer !== undefined && { fhirServer }),
    iss: '-',
    now: at,
    engine,
    ...(site && { site }),
  };
}

function linesOf(cards: readonly ExpectedCard[]): readonly string[] {
  return cards.map(({ indicator, rule, hip }) => `${indicator} ${rule} ${hip}`).sort();
}

function fault(message: string): { readonly ok: false; readonly faults: readonly string[] } {
  return { ok: false, faults: [message] };
}

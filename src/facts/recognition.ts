import { canonicalJson } from '../base/canonical-json.js';
import { byText } from '../base/order.js';
import { ICD_10_PCS, codingsOf, codingsOfAll, hasUnknownModifier } from '../fhir/codings.js';
import type { Coding } from '../fhir/codings.js';
import { asObject, asText, objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { nameOf, namesOf, normaliseReference, referenceOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import { ownershipOf } from '../fhir/same-patient.js';
import type { PatientIdentity } from '../fhir/same-patient.js';
import type { DataFinding } from './definitions.js';
import type { FactKnowledge, OperationKind } from './knowledge.js';
import { statedHipSide } from './hip-side.js';
import { sideOf } from './laterality.js';
import type { SideReading } from './laterality.js';
import type { Note } from './readings.js';

/** A hip operation or its implants asked for, by which coding of which resource. */
export interface PlannedOperation {
  readonly name: string;
  /** Every name under which a plan may say that it belongs to this order. */
  readonly names: readonly string[];
  readonly kind: OperationKind;
  readonly side: SideReading;
  /** `inherited`: a request for implants that states no side takes that of the only hip order beside it. */
  readonly sideFrom: 'itself' | 'its order' | 'inherited';
  readonly by: Required<Coding>;
  readonly ties: Ties;
}

/** What a request or plan says it belongs to, besides its own names. */
export interface Ties {
  readonly basedOn: readonly string[];
  readonly encounter: string | undefined;
  /** Requisition of a ServiceRequest, group identifier of a DeviceRequest, as `system|value`. */
  readonly group: string | undefined;
}

/** A request reduced to what recognition asks of it. */
export interface RequestReading {
  readonly operation: PlannedOperation;
  readonly open: boolean;
  readonly completed: boolean;
  /** A request for implants, which has no body site of its own. */
  readonly forDevice: boolean;
}

export interface RecognitionContext {
  readonly knowledge: FactKnowledge;
  readonly identity: PatientIdentity;
}

export type RequestOutcome =
  | { readonly kind: 'request'; readonly request: RequestReading }
  | { readonly kind: 'not-a-hip-operation' }
  | { readonly kind: 'finding'; readonly finding: DataFinding; readonly note: Note };

const OPEN: ReadonlySet<unknown> = new Set(['draft', 'active', 'on-hold']);
const DEAD: ReadonlySet<unknown> = new Set(['revoked', 'completed', 'entered-in-error']);

/**
 * Reads one ServiceRequest. In draft orders any status but revoked, completed and entered in error is open (a signed
 * order may come back under another one); in the record only draft, active and on-hold are.
 */
export function readRequest(located: Located, drafted: boolean, context: RecognitionContext): RequestOutcome {
  const { resource } = located;
  const code = orderedCode(resource);
  if (code === undefined) return { kind: 'not-a-hip-operation' };
  // ICD-10-PCS says what was done, not what is asked for: orders are matched by SNOMED CT and by a site's maps.
  const codings = codingsOf(code, context.knowledge.aliases).filter(({ system }) => system !== ICD_10_PCS);
  const match = operationOf(codings, context.knowledge.operations, context.knowledge);
  if (!match) return looksLikeOne(located, codings, context);
  const owner = ownershipOf(resource, context.identity);
  if (owner === 'other') return finding(located, 'other-patient', 'an order names another patient');
  const problem = unusableOrder(resource, owner, drafted);
  if (problem !== undefined) return finding(located, 'order-unreadable', `hip order ${problem}`);
  const operation: PlannedOperation = {
    name: nameOf(located),
    names: namesOf(located, context.identity.fhirServer),
    kind: match.kind,
    side: requestedSide(resource, context),
    sideFrom: 'itself',
    by: match.by,
    ties: tiesOf(resource, context.identity.fhirServer),
  };
  const { status } = resource;
  const open =
    (drafted ? !DEAD.has(status) : OPEN.has(status)) &&
    resource['intent'] !== 'option' &&
    resource['doNotPerform'] !== true;
  const forDevice = resource['resourceType'] === 'DeviceRequest';
  return { kind: 'request', request: { operation, open, completed: status === 'completed', forDevice } };
}

/** What is asked for; undefined for a resource that asks for nothing of the sort. A DeviceRequest without code asks for `{}`. */
function orderedCode(resource: JsonObject): unknown {
  switch (resource['resourceType']) {
    case 'ServiceRequest':
      return resource['code'] ?? {};
    case 'DeviceRequest':
      return resource['codeCodeableConcept'] ?? {};
    default:
      return undefined;
  }
}

/** A DeviceRequest has no body site: its side is one of its parameters. */
function requestedSide(resource: JsonObject, context: RecognitionContext): SideReading {
  const { laterality, aliases } = context.knowledge;
  return resource['resourceType'] === 'DeviceRequest'
    ? statedHipSide(resource['parameter'], 'code', context.knowledge)
    : sideOf(resource, laterality, aliases);
}

export function tiesOf(resource: JsonObject, fhirServer: string | undefined): Ties {
  const encounter = referenceOf(resource['encounter']);
  const identifier = asObject(resource['requisition']) ?? asObject(resource['groupIdentifier']);
  const value = asText(identifier?.['value']);
  return {
    basedOn: objectsIn(resource['basedOn']).flatMap((element) => {
      const reference = referenceOf(element);
      return reference === undefined ? [] : [normaliseReference(reference, fhirServer)];
    }),
    encounter: encounter === undefined ? undefined : normaliseReference(encounter, fhirServer),
    group: value === undefined ? undefined : `${asText(identifier?.['system']) ?? ''}|${value}`,
  };
}

/** An order that would be a hip replacement, had it been written so that a code could be matched. */
function looksLikeOne(
  located: Located,
  codings: readonly Coding[],
  context: RecognitionContext,
): RequestOutcome {
  const { knowledge } = context;
  if (located.resource['resourceType'] !== 'ServiceRequest') return { kind: 'not-a-hip-operation' };
  const bare = codings.find(
    (coding) =>
      coding.system === undefined && coding.code !== undefined && hasBareMatch(coding.code, knowledge),
  );
  if (bare) return finding(located, 'order-unreadable', 'hip order code without a code system, not matched');
  const sites = codingsOfAll(located.resource['bodySite'], knowledge.aliases);
  const atHip = sites.some(
    (site) =>
      site.code !== undefined &&
      (knowledge.laterality.hipSites.has(site.code) || knowledge.laterality.sidedSites.has(site.code)),
  );
  const uncoded = !codings.some((coding) => coding.code !== undefined);
  return uncoded && atHip
    ? finding(located, 'order-unreadable', 'order at the hip without a code')
    : { kind: 'not-a-hip-operation' };
}

function hasBareMatch(code: string, knowledge: FactKnowledge): boolean {
  const sets = knowledge.valueSets.setsOf({ system: 'http://snomed.info/sct', code });
  return [...sets].some((id) => knowledge.operations.has(id));
}

function unusableOrder(
  resource: JsonObject,
  owner: 'same' | 'unstated',
  drafted: boolean,
): string | undefined {
  if (hasUnknownModifier(resource)) return 'carries a modifier this service does not know';
  if (owner === 'unstated' && drafted) return 'names no patient';
  return undefined;
}

function finding(located: Located, kind: 'other-patient' | 'order-unreadable', text: string): RequestOutcome {
  const from = nameOf(located);
  return {
    kind: 'finding',
    finding: { kind, hip: 'any', construct: 'any', text, from: [from] },
    note: { from, why: text },
  };
}

const KIND_ORDER: readonly OperationKind[] = [
  'revision',
  'conversion',
  'primary',
  'unspecified',
  'other-hip',
  'implant',
];

/** The kind of hip operation a list of codings names; a revision outranks what it replaces. */
export function operationOf(
  codings: readonly Coding[],
  operations: ReadonlyMap<string, OperationKind>,
  knowledge: FactKnowledge,
): { readonly kind: OperationKind; readonly by: Required<Coding> } | undefined {
  const found = codings.flatMap((coding) => {
    const { system, code } = coding;
    if (system === undefined || code === undefined) return [];
    return [...knowledge.valueSets.setsOf(coding)].flatMap((id) => {
      const kind = operations.get(id);
      return kind === undefined ? [] : [{ kind, by: { system, code } }];
    });
  });
  return found.sort(
    (a, b) =>
      KIND_ORDER.indexOf(a.kind) - KIND_ORDER.indexOf(b.kind) ||
      byText((item: typeof a) => canonicalJson(item.by))(a, b),
  )[0];
}

/** Orders and appointments are also read when nothing else is: the entries of a context Bundle, or of an array. */
export function contextEntries(value: unknown): readonly Located[] {
  const bundle = asObject(value);
  return objectsIn(bundle?.['entry']).flatMap((entry) => {
    const resource = asObject(entry['resource']);
    if (!resource) return [];
    const fullUrl = asText(entry['fullUrl']);
    return [{ resource, ...(fullUrl !== undefined && { fullUrl }) }];
  });
}

import type { BundleEntry, Device, FhirResource, Identifier } from 'fhir/r4.js';
import type { HookAnswer } from '../../advice/evaluate-patient.js';
import { listUuid } from '../../base/hash.js';
import type { Advisory, HipEvaluation } from '../../engine/evaluate.js';
import type { Rulebook } from '../../rulebook/types.js';

/** What the resources of one hook's evaluation are made from. */
export interface EvaluationScope {
  readonly one: HookAnswer;
  /** The id of the evaluation. */
  readonly evaluation: string;
  readonly rulebook: Rulebook;
  /** The hips that are told, each with the advisories that are. */
  readonly hips: readonly HipEvaluation[];
}

/** Decides what of an evaluation is told: another hip, a silent rule or a hip under operation may not be. */
export type Tells = (advisory: Advisory, hip: HipEvaluation) => boolean;

export type Named = FhirResource & { readonly id: string };

export function evaluationScope(one: HookAnswer, rulebook: Rulebook, tells: Tells): EvaluationScope {
  const hips = one.answer.hips
    .map((hip) => ({ ...hip, advisories: hip.advisories.filter((advisory) => tells(advisory, hip)) }))
    .filter(({ advisories }) => advisories.length > 0);
  return { one, evaluation: one.answer.evaluationId(), rulebook, hips };
}

export function urnOf(id: string): string {
  return `urn:uuid:${id}`;
}

export function entryOf(resource: Named): BundleEntry {
  return { fullUrl: urnOf(resource.id), resource };
}

/** An id of ours as an identifier. */
export function identifierOf(id: string): Identifier {
  return { system: 'urn:ietf:rfc:3986', value: urnOf(id) };
}

/** The id of what is told of one hip in one evaluation. */
export function hipId(
  { hip, construct }: HipEvaluation,
  { evaluation }: EvaluationScope,
  what: string,
): string {
  return listUuid([evaluation, hip, construct, what]);
}

export function subjectOf({ one }: EvaluationScope): { readonly reference: string } {
  return { reference: `Patient/${one.input.patientId}` };
}

/** References among the names of resources: a name without a type is of this evaluation only. */
export function referencesIn(names: readonly string[]): readonly { readonly reference: string }[] {
  return [...new Set(names)]
    .filter((name) => /^[A-Z][A-Za-z]+\/[A-Za-z0-9\-.]{1,64}$/.test(name) || /^(?:https?|urn):/.test(name))
    .filter((name) => !name.includes('/content-'))
    .map((reference) => ({ reference }));
}

/** The engine, contained in whatever it made. */
export const ENGINE = { reference: '#engine' } as const;

export function engineDevice({ one }: EvaluationScope): Device & Named {
  return {
    resourceType: 'Device',
    id: 'engine',
    deviceName: [{ name: 'Kotyle', type: 'model-name' }],
    version: [{ value: one.input.engine }],
  };
}

import type { Advice, Hook } from '../../advice/index.js';
import type { HookAnswer } from '../../advice/evaluate-patient.js';
import { statesOf } from '../../advice/states.js';
import type { Tells } from '../../render/fhir/evaluation-scope.js';
import { HOOK_TITLES } from '../../render/words.js';
import type { Rulebook } from '../../rulebook/types.js';
import type { EvaluateRequest } from './evaluate-request.js';

/** Kinds of rule that are told of a hip even while it is reduced or operated on. */
const ALWAYS: ReadonlySet<string> = new Set(['side', 'identity']);

/**
 * What of an answer is told: the hips asked for, without the rules this installation keeps silent, and of a hip that is
 * being reduced or operated on only whose it is and which side.
 */
export function tellsFor(
  { input, answer }: HookAnswer,
  { hip: side, construct }: EvaluateRequest,
  rulebook: Rulebook,
): Tells {
  const silent = new Set(statesOf(input, rulebook).silent);
  const always = new Set(rulebook.rules.filter(({ type }) => ALWAYS.has(type)).map(({ id }) => id));
  const { silenced } = answer.record;
  return (advisory, hip) => {
    if (side !== undefined && hip.hip !== side) return false;
    if (construct !== undefined && hip.construct !== construct) return false;
    if (silent.has(advisory.rule)) return false;
    const isGated = silenced.some((one) => one.hip === 'any' || one.hip === hip.hip);
    return !isGated || always.has(advisory.rule);
  };
}

/** Why an occasion says nothing, or less than it could. */
export function remarkOf(hook: Hook, advice: Advice): readonly string[] {
  const title = HOOK_TITLES[hook];
  if (advice.kind !== 'answer')
    return [`${title}: not evaluated; ${advice.issues.map(({ message }) => message).join('; ')}.`];
  if (advice.off) return [`${title}: not evaluated; this installation has turned the service off.`];
  if (advice.silent !== undefined)
    return [
      `${title}: evaluated and recorded; this installation keeps the service silent (${advice.silent}).`,
    ];
  if ((advice.record?.silenced ?? []).length > 0)
    return [
      `${title}: of a hip that is being reduced or operated on, or in an emergency, nothing is told but its side.`,
    ];
  return [];
}

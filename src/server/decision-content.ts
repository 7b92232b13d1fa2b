import { SERVICES } from '../advice/index.js';
import type { Advice, AdviceInput } from '../advice/index.js';
import { toAnybody } from '../advice/hook-inputs.js';
import type { Json } from '../base/canonical-json.js';
import type { DataSet } from '../fhir/bundle.js';
import type { Site } from '../rulebook/site.js';
import type { ContentToKeep, DecisionContent } from '../store/decision-content.js';
import { EVALUATE_ID, evaluateService } from './fhir/evaluate-service.js';

/**
 * What an answer was made from and what was shown, for a limited time and sealed. Nothing of a call that was not about
 * a hip: nobody would ever ask for it. Prefetch is taken from the body as it came, where that is at hand.
 */
export function contentOf(
  advice: Extract<Advice, { kind: 'answer' }>,
  input: AdviceInput,
  sent?: Uint8Array,
): ContentToKeep | undefined {
  if (advice.hips.length === 0) return undefined;
  const { service, fetched, acknowledged } = input;
  const call = {
    ...input,
    service: { id: service.id, hook: service.hook },
    fetched: fetched && [...fetched],
    acknowledged: acknowledged && [...acknowledged],
    // Known to the service, and not of this call.
    site: undefined,
    nameSecret: undefined,
    ...(sent && { prefetch: undefined }),
  };
  return {
    call: call as unknown as DecisionContent['call'],
    cards: advice.cards as unknown as Json,
    ...(sent && { sent }),
  };
}

/** What is known to a service beside the call. */
export interface Known {
  readonly site?: Site | undefined;
  readonly nameSecret: string;
}

/** The call as it was answered, to be answered again; undefined when its service is no longer known. */
export function inputOf({ call }: DecisionContent, { site, nameSecret }: Known): AdviceInput | undefined {
  const { service: named, fetched, acknowledged, ...plain } = call as unknown as KeptCall;
  const known = SERVICES.map((one) => [one, evaluateService(one.hook)]).flat();
  const service = known.find(({ id, hook }) => id === named.id && hook === named.hook);
  if (!service) return undefined;
  return {
    ...plain,
    service,
    nameSecret,
    ...(fetched && { fetched: new Map(fetched) }),
    ...(acknowledged && { acknowledged: new Set(acknowledged) }),
    ...(site && { site: service.id === EVALUATE_ID ? toAnybody(site) : site }),
  };
}

/** A call as `contentOf` wrote it: nothing else is ever sealed under these keys. */
interface KeptCall extends Omit<AdviceInput, 'service' | 'fetched' | 'acknowledged' | 'site' | 'nameSecret'> {
  readonly service: { readonly id: string; readonly hook: string };
  readonly fetched?: readonly (readonly [string, DataSet])[];
  readonly acknowledged?: readonly string[];
}

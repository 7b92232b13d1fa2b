import { advise, agreesWithReference } from '../../advice/index.js';
import type { Issue } from '../../base/result.js';
import { issue } from '../../base/result.js';
import type { Store } from '../../store/store.js';
import { perInstallation } from '../installation.js';
import type { Installation } from '../installation.js';
import { BUILT_IN_RULE, builtInCall } from './built-in-call.js';
import type { Lifecycle } from './lifecycle.js';

/** What is wrong with the service at this moment; nothing, when it can answer calls. */
export type Readiness = () => Promise<readonly Issue[]>;

export interface ReadinessParts {
  readonly installation: () => Installation;
  readonly engineVersion: string;
  readonly store: Pick<Store, 'ping'>;
  readonly lifecycle: Lifecycle;
  /** Milliseconds since some moment; the clock of the day plays no part. */
  readonly elapsed?: () => number;
}

/** The answer stands for this long: whoever asks without pause makes no work by it. */
const STANDS_MS = 1000;
/** A database that needs longer to answer a trivial question is no help to a call. */
const STORE_WITHIN_MS = 2000;

/** Finds out whether calls can be answered, at most once a second however often it is asked. */
export function newReadiness(parts: ReadinessParts): Readiness {
  const { installation, engineVersion, store, lifecycle, elapsed = () => performance.now() } = parts;
  const findAdviceIssues = perInstallation((installed) => adviceIssues(installed, engineVersion));
  const findIssues = async (): Promise<readonly Issue[]> =>
    (await Promise.all([findAdviceIssues(installation())(), storeIssues(store)])).flat();
  let last: { readonly at: number; readonly issues: Promise<readonly Issue[]> } | undefined;
  return async () => {
    if (lifecycle.isStopping()) return [notReady('service', 'it is stopping')];
    if (!last || elapsed() - last.at >= STANDS_MS) last = { at: elapsed(), issues: findIssues() };
    return await last.issues;
  };
}

/** Answers the built-in call as any other, end to end, and looks whether the rule that must fire did. */
export function adviceIssues(
  { advisor, site }: Installation,
  engineVersion: string,
): () => Promise<readonly Issue[]> {
  const call = builtInCall(advisor.rulebook, site, engineVersion);
  return async () => {
    try {
      const advice = await advise({ ...call }, advisor);
      if (advice.kind !== 'answer') return [notReady('rulebook', 'the built-in patient was not evaluated')];
      if (advice.faults.length > 0)
        return [notReady('rulebook', `rules broke: ${advice.faults.map(({ rule }) => rule).join(', ')}`)];
      const { agrees, differing } = await agreesWithReference(advisor, [call]);
      if (!agrees)
        return [
          notReady('rulebook', `expected both evaluators to decide alike, not ${differing.join(', ')}`),
        ];
      const found = advice.hips
        .flatMap(({ advisories }) => advisories)
        .some(({ rule, outcome }) => rule === BUILT_IN_RULE && outcome === 'fires');
      return found
        ? []
        : [notReady('rulebook', `expected ${BUILT_IN_RULE} to fire for the built-in patient`)];
    } catch {
      return [notReady('rulebook', 'the built-in patient could not be evaluated')];
    }
  };
}

async function storeIssues(store: Pick<Store, 'ping'>): Promise<readonly Issue[]> {
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<never>((_resolve, reject) => {
    timer = setTimeout(() => reject(new Error('late')), STORE_WITHIN_MS);
  });
  try {
    await Promise.race([store.ping(), late]);
    return [];
  } catch {
    return [notReady('store', 'expected the database to take a write, it did not')];
  } finally {
    clearTimeout(timer);
  }
}

function notReady(part: string, message: string): Issue {
  return issue('not-ready', part, message);
}

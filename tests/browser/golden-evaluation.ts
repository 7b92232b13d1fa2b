import { advise, COMPUTATION_IDS, newAdvisor, type AdviceInput } from '../../src/advice/index.js';
import { canonicalJson } from '../../src/base/canonical-json.js';
import { sha256Hex } from '../../src/base/hash.js';
import { buildRulebook } from '../../src/rulebook/build.js';
import type { Pack } from '../../src/rulebook/pack.js';
import { mechanicsSample } from './mechanics-sample.js';

/** Calls that went through JSON: what was fetched is a list of pairs instead of a map. */
export type PlainCall = Omit<AdviceInput, 'fetched'> & {
  readonly fetched: readonly (readonly [
    string,
    AdviceInput['fetched'] extends ReadonlyMap<string, infer Set> | undefined ? Set : never,
  ])[];
};

export interface GoldenHashes {
  /** Over the evaluations and cards of every call, as canonical JSON. */
  readonly advice: string;
  /** Over a sample of the mechanics, rounded as facts are. */
  readonly mechanics: string;
  readonly evaluations: number;
}

/** The same work in Node and in a browser: nothing in here knows where it runs. */
export async function goldenEvaluation(pack: Pack, calls: readonly PlainCall[]): Promise<GoldenHashes> {
  const built = buildRulebook(pack, COMPUTATION_IDS);
  if (!built.ok) throw new Error('the rulebook has faults');
  const advisor = newAdvisor(built.rulebook);
  const found: unknown[] = [];
  for (const call of calls) {
    const advice = await advise({ ...call, fetched: new Map(call.fetched) }, advisor);
    found.push(
      advice.kind === 'answer' ? { cards: advice.cards, evaluation: advice.evaluation?.() ?? null } : advice,
    );
  }
  return {
    advice: sha256Hex(found.map(canonicalJson).join('\n')),
    mechanics: sha256Hex(canonicalJson(mechanicsSample())),
    evaluations: found.length,
  };
}

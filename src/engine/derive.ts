import type { ConstructKind } from '../facts/definitions.js';
import type { Fact } from '../facts/fact.js';
import type { FactKnowledge } from '../facts/knowledge.js';
import { aiisType } from './derive-aiis.js';
import { articulationOf, effectiveHead } from './derive-bearing.js';
import { cupFacts, filmTilt } from './derive-cup.js';
import { linerCrosslinked, linerYears } from './derive-liner-course.js';
import { addedLateralization } from './derive-liner-added.js';
import { nativeMotionSum } from './derive-native-motion.js';
import { offPlanFacts } from './derive-off-plan.js';
import { reductionFacts } from './derive-reduction.js';
import { rimFacts } from './derive-rim.js';
import { skirtFacts } from './derive-skirt.js';
import { lumbarFlexionFact, sacralSlopeChange } from './derive-spine.js';
import { linerPenetration } from './derive-wear.js';

/** What the rulebook says about derived facts: the words of their remarks, and the methods that show a cup's sign. */
export type DeriveWords = Pick<FactKnowledge, 'remarks' | 'methodsShowingSign'>;

/**
 * Facts the engine works out before any rule looks: cup angles restated in each definition, the sign of anteversion as
 * far as it is known, the tilt those angles refer to, the head that really bears, rim and skirt as far as they are stated,
 * wear of the liner and what it adds, the stem's version in the reference that sums are published in, how far spine and
 * pelvis move, how supple the hip is, and which spine its bone has.
 */
export function deriveFacts(
  facts: ReadonlyMap<string, Fact>,
  construct: ConstructKind,
  words: DeriveWords,
): ReadonlyMap<string, Fact> {
  const derived = new Map(facts);
  const set = (fact: Fact): unknown => derived.set(fact.id, fact);
  const inclination = facts.get('cup-inclination');
  const anteversion = facts.get('cup-anteversion');
  if (inclination && anteversion) {
    const cup = { inclination, anteversion, construct, words };
    cupFacts(cup).forEach(set);
    set(filmTilt(cup, facts));
    offPlanFacts(derived, words).forEach(set);
  }
  const articulation = articulationOf(facts, words.remarks);
  set(articulation);
  set(effectiveHead(facts, articulation));
  rimFacts(derived).forEach(set);
  skirtFacts(facts).forEach(set);
  set(linerPenetration(facts, construct));
  reductionFacts(facts, construct).forEach(set);
  set(linerYears(facts, construct));
  set(linerCrosslinked(facts));
  set(addedLateralization(facts));
  const stem = facts.get('stem-anteversion');
  if (stem) {
    const condylar = condylarVersion(stem, words);
    set(condylar);
    set(modelledVersion(stem, condylar, words));
  }
  set(lumbarFlexionFact(facts));
  set(sacralSlopeChange(facts, words.remarks));
  set(nativeMotionSum(facts));
  set(aiisType(facts));
  return derived;
}

/** Stem version against the posterior condyles, as sums with a cup take it; another reference is another angle. */
function condylarVersion(stem: Fact, { remarks }: DeriveWords): Fact {
  const id = 'stem-anteversion-condylar';
  const fact = { ...stem, id };
  if (stem.state.status !== 'present') return fact;
  switch (stem.qualifiers?.['version-reference']) {
    case 'posterior-condylar':
      return fact;
    case undefined:
      return { ...fact, remarks: [...stem.remarks, remarks.versionReferenceNotStated] };
    default:
      return { ...fact, state: { status: 'unknown', reason: 'definition-unknown', needs: [stem.id] } };
  }
}

/** The same for the model of contact: that the condyles are meant is an assumption of it, told beside its others. */
function modelledVersion(stem: Fact, condylar: Fact, { remarks }: DeriveWords): Fact {
  const id = 'stem-anteversion-modelled';
  const isAssumed = condylar.remarks.length > stem.remarks.length;
  if (!isAssumed) return { ...condylar, id };
  return { ...stem, id, assumptions: [...(stem.assumptions ?? []), remarks.versionReferenceNotStated] };
}

import type { Interval } from '../base/interval.js';
import { exactly, spanOf } from '../base/interval.js';
import { sortedUnique } from '../base/order.js';
import { roundForUnit } from '../base/rounding.js';
import { degrees } from '../base/units.js';
import { cupOrientationFromAxis } from '../biomechanics/orientation/cup-orientation.js';
import { cupAxisFromStatedAngles } from '../biomechanics/orientation/mixed-cup-angles.js';
import type { ConstructKind, CupDefinition } from '../facts/definitions.js';
import { CUP_DEFINITIONS } from '../facts/definitions.js';
import type { Fact } from '../facts/fact.js';
import { NO_PROVENANCE, quantityOf, unknownFact } from '../facts/fact.js';
import { isSignShown } from '../facts/version-sign.js';
import type { DeriveWords } from './derive.js';

/** Both angles of a cup as its source states them. */
export interface StatedCup {
  readonly inclination: Fact;
  readonly anteversion: Fact;
  readonly construct: ConstructKind;
  readonly words: DeriveWords;
}

/** The cup's angles in the radiographic definition, its anteversion in the two others, and how sure its sign is. */
export function cupFacts(cup: StatedCup): readonly Fact[] {
  const radiographic = withSign(restate(cup, 'anteversion', 'radiographic'), cup);
  return [
    restate(cup, 'inclination', 'radiographic'),
    radiographic.assumed,
    { ...radiographic.certain, id: 'cup-anteversion-signed' },
    inDefinition(cup, 'operative'),
    inDefinition(cup, 'anatomic'),
  ];
}

/** Anteversion restated for a sum or range that is published in another definition, its sign taken as for the rest. */
function inDefinition(cup: StatedCup, wanted: 'operative' | 'anatomic'): Fact {
  const restated = restate(cup, 'anteversion', wanted);
  const { error, ...fact } = withSign(restated, cup).assumed;
  // The measuring band belongs to the definition it was read in: restated, only that of a plan (0) is known.
  const band = error === 0 || restated === cup.anteversion ? error : undefined;
  const interval = quantityOf(fact);
  const wide = interval !== undefined && interval.low !== interval.high && fact.narrowedBy === undefined;
  return {
    ...fact,
    ...(band !== undefined && { error: band }),
    ...(wide && { narrowedBy: narrowing(cup) }),
    id: `cup-anteversion-${wanted}`,
  };
}

function narrowing({ inclination, anteversion }: StatedCup): readonly string[] {
  const partner = quantityOf(inclination);
  return partner && partner.low !== partner.high ? [anteversion.id, inclination.id] : [anteversion.id];
}

type Angle = 'inclination' | 'anteversion';

/** Planned and film values are radiographic unless they say otherwise; a CT or theatre value without definition is unknown. */
function definitionOf(fact: Fact, construct: ConstructKind): CupDefinition | undefined {
  const stated = fact.qualifiers?.['angle-definition'];
  const known = CUP_DEFINITIONS.find((definition) => definition === stated);
  if (known) return known;
  if (isPlan(fact, construct)) return 'radiographic';
  return fact.stage === 'intraoperative' || fact.method === 'ct' || fact.method === 'navigation'
    ? undefined
    : 'radiographic';
}

/**
 * One cup angle in the definition wanted. What was stated in that definition is taken as stated; where restating takes
 * the other angle too, and it is missing, it is unknown.
 */
function restate(cup: StatedCup, angle: Angle, wanted: CupDefinition): Fact {
  const [own, other] =
    angle === 'inclination' ? [cup.inclination, cup.anteversion] : [cup.anteversion, cup.inclination];
  const interval = quantityOf(own);
  const definitions = possibleDefinitions(own, cup.construct);
  if (interval && definitions.length === 1 && definitions[0] === wanted) return own;
  const partner = quantityOf(other);
  if (!interval) return wanted === 'radiographic' || partner ? own : withoutEither(own, other);
  const unknown = (needs: readonly string[]): Fact => {
    const reason = wanted === 'radiographic' ? 'definition-unknown' : 'input-missing';
    return { ...own, state: { status: 'unknown', reason, needs } };
  };
  if (!partner) return unknown(needsOf(other));
  if (!isACup(angle, interval) || !isACup(angle === 'inclination' ? 'anteversion' : 'inclination', partner)) {
    return unknown([own.id]);
  }
  const values = corners(interval).flatMap((mine) =>
    corners(partner).flatMap((theirs) =>
      convertAll(
        angle,
        { value: mine, definitions },
        { value: theirs, definitions: possibleDefinitions(other, cup.construct) },
        wanted,
      ),
    ),
  );
  // A cup whose opening stands upright has no version in the other definitions: it comes out as 90.
  const noVersion = angle === 'anteversion' && values.some((value) => Math.abs(value) >= 90);
  if (values.length === 0 || noVersion)
    return unknownFact(own.id, 'refused', {
      provenance: own.provenance,
      ...(own.unit !== undefined && { unit: own.unit }),
    });
  const remark = definitions.length > 1 ? [cup.words.remarks.angleDefinitionNotStated] : [];
  const assumptions = sortedUnique([...(own.assumptions ?? []), ...(other.assumptions ?? [])]);
  return {
    ...own,
    state: { status: 'present', value: { kind: 'quantity', interval: spanOf(values) } },
    remarks: [...own.remarks, ...remark],
    ...(assumptions.length > 0 && { assumptions }),
  };
}

function withoutEither(own: Fact, other: Fact): Fact {
  if (own.state.status !== 'unknown') return own;
  return { ...own, state: { ...own.state, needs: sortedUnique([...own.state.needs, ...needsOf(other)]) } };
}

function needsOf(fact: Fact): readonly string[] {
  return fact.state.status === 'unknown' ? fact.state.needs : [fact.id];
}

/** A cup left in place was measured, also where the rest of the plan is a plan. */
function isPlan(fact: Fact, construct: ConstructKind): boolean {
  return construct === 'planned' && fact.retained !== true;
}

function possibleDefinitions(fact: Fact, construct: ConstructKind): readonly CupDefinition[] {
  const definition = definitionOf(fact, construct);
  return definition ? [definition] : CUP_DEFINITIONS;
}

/**
 * The points of an interval at which a restated angle can be least or greatest: its ends, and version 0, where
 * radiographic inclination turns back (it is even in version, and monotone on either side).
 */
function corners(interval: Interval): readonly number[] {
  const { low, high } = interval;
  return [...new Set(low < 0 && high > 0 ? [low, 0, high] : [low, high])];
}

/** Whether every angle of an interval is a cup's in every definition; an open or wider range can't be restated. */
function isACup(angle: Angle, { low, high }: Interval): boolean {
  return angle === 'inclination' ? low > 0 && high <= 90 : low > -90 && high < 90;
}

interface Stated {
  readonly value: number;
  readonly definitions: readonly CupDefinition[];
}

function convertAll(angle: Angle, own: Stated, other: Stated, wanted: CupDefinition): readonly number[] {
  const [inclination, anteversion] = angle === 'inclination' ? [own, other] : [other, own];
  return inclination.definitions.flatMap((first) =>
    anteversion.definitions.flatMap((second) => {
      // Two angles of one reading without definition were read in one definition.
      if (inclination.definitions.length > 1 && anteversion.definitions.length > 1 && first !== second)
        return [];
      const outcome = cupAxisFromStatedAngles({
        inclination: { definition: first, value: degrees(inclination.value) },
        anteversion: { definition: second, value: degrees(anteversion.value) },
      });
      if (outcome.kind === 'none') return [];
      return [roundForUnit(cupOrientationFromAxis(outcome.axis, wanted)[angle], 'deg')];
    }),
  );
}

/**
 * Anteversion twice: with its sign taken as written (what most rules ask), and as certain as it is (what
 * "retroverted" asks). A plan states a direction; a film's sign must have been confirmed.
 */
function withSign(
  anteversion: Fact,
  { anteversion: stated, construct, words }: StatedCup,
): { readonly assumed: Fact; readonly certain: Fact } {
  const interval = quantityOf(anteversion);
  if (!interval) return { assumed: anteversion, certain: anteversion };
  if (isSignShown(stated, construct, words.methodsShowingSign))
    return { assumed: anteversion, certain: anteversion };
  const size = Math.max(Math.abs(interval.low), Math.abs(interval.high));
  const either: Fact = {
    ...anteversion,
    state: { status: 'present', value: { kind: 'quantity', interval: { low: -size, high: size } } },
    narrowedBy: ['cup-anteversion'],
    remarks: [...anteversion.remarks, words.remarks.signNotConfirmed],
  };
  const forward: Fact = {
    ...anteversion,
    remarks: [...anteversion.remarks, words.remarks.takenAsAnteverted],
  };
  return { assumed: interval.low >= 0 ? forward : either, certain: either };
}

/**
 * Tilt of the pelvis, anterior positive, on the film or plane the cup angles refer to: 0 against the anterior pelvic
 * plane, the tilt measured in the film's posture, unknown against a table. An unstated plane counts as a supine film.
 */
export function filmTilt(cup: StatedCup, facts: ReadonlyMap<string, Fact>): Fact {
  const id = 'film-tilt';
  const unit = { unit: 'deg' };
  const angles = [cup.anteversion, cup.inclination].filter((fact) => quantityOf(fact) !== undefined);
  const needs = angles.map((fact) => fact.id);
  const stated = sortedUnique(angles.flatMap((fact) => planeOf(fact) ?? []));
  const [plane] = stated;
  if (stated.length > 1)
    return {
      ...unknownFact(id, 'conflicting', unit),
      state: { status: 'unknown', reason: 'conflicting', needs },
    };
  switch (plane) {
    case 'app':
      return {
        id,
        state: { status: 'present', value: { kind: 'quantity', interval: exactly(0) } },
        ...unit,
        error: 0,
        provenance: NO_PROVENANCE,
        remarks: [],
      };
    case 'standing-film':
      return { ...tiltIn('standing', facts), id };
    case 'supine-film':
      return { ...tiltIn('supine', facts), id };
    case undefined: {
      const supine = tiltIn('supine', facts);
      const remark = angles.length > 0 ? [cup.words.remarks.referencePlaneNotStated] : [];
      return { ...supine, id, remarks: [...supine.remarks, ...remark] };
    }
    default:
      return {
        ...unknownFact(id, 'definition-unknown', unit),
        state: { status: 'unknown', reason: 'definition-unknown', needs },
      };
  }
}

function planeOf(fact: Fact): string | undefined {
  const plane = fact.qualifiers?.['reference-plane'];
  return typeof plane === 'string' ? plane : undefined;
}

function tiltIn(posture: 'supine' | 'standing', facts: ReadonlyMap<string, Fact>): Fact {
  const id = `app-tilt-${posture}`;
  return facts.get(id) ?? unknownFact(id, 'not-recorded', { unit: 'deg' });
}

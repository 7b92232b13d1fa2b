import type { Interval } from '../base/interval.js';
import { spanOf } from '../base/interval.js';
import { sortedUnique } from '../base/order.js';
import { roundForUnit } from '../base/rounding.js';
import { degrees } from '../base/units.js';
import { toRadiographic } from '../biomechanics/mixed-cup-angles.js';
import type { ConstructKind, CupDefinition } from '../facts/definitions.js';
import { CUP_DEFINITIONS } from '../facts/definitions.js';
import type { Fact } from '../facts/fact.js';
import { NO_PROVENANCE, quantityOf, unknownFact } from '../facts/fact.js';

/**
 * Facts the engine works out before any rule looks: cup angles restated in the radiographic definition, the sign of
 * anteversion as far as it is known, and the head that really bears.
 */
export function deriveFacts(
  facts: ReadonlyMap<string, Fact>,
  construct: ConstructKind,
): ReadonlyMap<string, Fact> {
  const derived = new Map(facts);
  const inclination = facts.get('cup-inclination');
  const anteversion = facts.get('cup-anteversion');
  if (inclination && anteversion) {
    derived.set('cup-inclination', restate('inclination', inclination, anteversion, construct));
    const radiographic = restate('anteversion', anteversion, inclination, construct);
    const signed = withSign(radiographic, anteversion, construct);
    derived.set('cup-anteversion', signed.assumed);
    derived.set('cup-anteversion-signed', signed.certain);
  }
  const articulation = articulationOf(facts);
  derived.set('articulation', articulation);
  derived.set('effective-head-diameter', effectiveHead(facts, articulation));
  return derived;
}

type Angle = 'inclination' | 'anteversion';

/** Planned and film values are radiographic unless they say otherwise; a CT or theatre value without definition is unknown. */
function definitionOf(fact: Fact, construct: ConstructKind): CupDefinition | undefined {
  const stated = fact.qualifiers?.['angle-definition'];
  const known = CUP_DEFINITIONS.find((definition) => definition === stated);
  if (known) return known;
  if (construct === 'planned') return 'radiographic';
  return fact.stage === 'intraoperative' || fact.method === 'ct' || fact.method === 'navigation'
    ? undefined
    : 'radiographic';
}

/** One cup angle in the radiographic definition; where that takes the other angle too, and it is missing, it is unknown. */
function restate(angle: Angle, own: Fact, other: Fact, construct: ConstructKind): Fact {
  const interval = quantityOf(own);
  if (!interval) return own;
  const definitions = possibleDefinitions(own, construct);
  if (definitions.length === 1 && definitions[0] === 'radiographic') return own;
  const partner = quantityOf(other);
  if (!partner)
    return { ...own, state: { status: 'unknown', reason: 'definition-unknown', needs: needsOf(other) } };
  if (!isACup(angle, interval) || !isACup(angle === 'inclination' ? 'anteversion' : 'inclination', partner)) {
    return { ...own, state: { status: 'unknown', reason: 'definition-unknown', needs: [own.id] } };
  }
  const values = corners(interval).flatMap((mine) =>
    corners(partner).flatMap((theirs) =>
      convertAll(
        angle,
        { value: mine, definitions },
        { value: theirs, definitions: possibleDefinitions(other, construct) },
      ),
    ),
  );
  if (values.length === 0)
    return unknownFact(own.id, 'refused', {
      provenance: own.provenance,
      ...(own.unit !== undefined && { unit: own.unit }),
    });
  const restated = spanOf(values);
  const remark = definitions.length > 1 ? ['angle definition not stated'] : [];
  const assumptions = sortedUnique([...(own.assumptions ?? []), ...(other.assumptions ?? [])]);
  return {
    ...own,
    state: { status: 'present', value: { kind: 'quantity', interval: restated } },
    remarks: [...own.remarks, ...remark],
    ...(assumptions.length > 0 && { assumptions }),
  };
}

function needsOf(fact: Fact): readonly string[] {
  return fact.state.status === 'unknown' ? fact.state.needs : [fact.id];
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

function convertAll(angle: Angle, own: Stated, other: Stated): readonly number[] {
  const [inclination, anteversion] = angle === 'inclination' ? [own, other] : [other, own];
  return inclination.definitions.flatMap((first) =>
    anteversion.definitions.flatMap((second) => {
      // Two angles of one reading without definition were read in one definition.
      if (inclination.definitions.length > 1 && anteversion.definitions.length > 1 && first !== second)
        return [];
      const outcome = toRadiographic({
        inclination: { definition: first, value: degrees(inclination.value) },
        anteversion: { definition: second, value: degrees(anteversion.value) },
      });
      return outcome.kind === 'none' ? [] : [roundForUnit(outcome.orientation[angle], 'deg')];
    }),
  );
}

/** Methods that show which way a cup faces; an AP film shows only how much. */
const SHOWS_SIGN: ReadonlySet<string> = new Set(['ct', 'cross-table', 'navigation']);

/**
 * Anteversion twice: with its sign taken as written (what most rules ask), and as certain as it is (what
 * "retroverted" asks). A plan states a direction; a film's sign must have been confirmed.
 */
function withSign(
  radiographic: Fact,
  stated: Fact,
  construct: ConstructKind,
): { readonly assumed: Fact; readonly certain: Fact } {
  const id = 'cup-anteversion-signed';
  const interval = quantityOf(radiographic);
  if (!interval) return { assumed: radiographic, certain: { ...radiographic, id } };
  const confirmed = stated.qualifiers?.['version-sign-confirmed'];
  const shown = construct === 'planned' || SHOWS_SIGN.has(stated.method ?? '');
  if (confirmed === true || (shown && confirmed !== false))
    return { assumed: radiographic, certain: { ...radiographic, id } };
  const size = Math.max(Math.abs(interval.low), Math.abs(interval.high));
  const either: Fact = {
    ...radiographic,
    state: { status: 'present', value: { kind: 'quantity', interval: { low: -size, high: size } } },
    narrowedBy: ['cup-anteversion'],
    remarks: [...radiographic.remarks, 'sign of anteversion not confirmed'],
  };
  const forward: Fact = {
    ...radiographic,
    remarks: [...radiographic.remarks, 'taken as anteverted; an AP film does not show the sign'],
  };
  return { assumed: interval.low >= 0 ? forward : either, certain: { ...either, id } };
}

/** One ball or two: dual mobility when the liner says so, or when a mobile liner is measured. */
function articulationOf(facts: ReadonlyMap<string, Fact>): Fact {
  const liner = facts.get('liner-type');
  const mobile = facts.get('mobile-liner-diameter');
  const codes =
    liner?.state.status === 'present' && liner.state.value.kind === 'code' ? liner.state.value.codes : [];
  const dual = codes.includes('dual-mobility') || quantityOf(mobile) !== undefined;
  // What was stated and could not be used is no reason to assume the usual.
  const doubtful = [liner, mobile].filter((fact) => fact !== undefined && wasStated(fact));
  if (!dual && doubtful.length > 0) {
    const needs = doubtful.flatMap((fact) => fact?.id ?? []);
    return {
      ...unknownFact('articulation', 'refused'),
      state: { status: 'unknown', reason: 'refused', needs },
    };
  }
  return {
    id: 'articulation',
    state: { status: 'present', value: { kind: 'code', codes: [dual ? 'dual-mobility' : 'single'] } },
    provenance: liner?.provenance ?? NO_PROVENANCE,
    remarks: dual || codes.length > 0 ? [] : ['single articulation assumed, liner type not recorded'],
  };
}

function wasStated({ state }: Fact): boolean {
  return (
    state.status === 'unknown' &&
    state.reason !== 'not-recorded' &&
    state.reason !== 'set-not-read' &&
    state.reason !== 'side-unknown'
  );
}

/** With dual mobility the mobile liner is the head that would have to jump. */
function effectiveHead(facts: ReadonlyMap<string, Fact>, articulation: Fact): Fact {
  if (articulation.state.status === 'unknown')
    return { ...articulation, id: 'effective-head-diameter', unit: 'mm' };
  const dual =
    articulation.state.status === 'present' &&
    articulation.state.value.kind === 'code' &&
    articulation.state.value.codes.includes('dual-mobility');
  const source = facts.get(dual ? 'mobile-liner-diameter' : 'head-diameter');
  if (!source) return unknownFact('effective-head-diameter', 'not-recorded', { unit: 'mm' });
  return { ...source, id: 'effective-head-diameter' };
}

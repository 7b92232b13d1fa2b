import { exactly } from '../base/interval.js';
import { roundForUnit } from '../base/rounding.js';
import { exactNumber, quantityOf } from '../facts/fact.js';
import type { Fact } from '../facts/fact.js';
import { needsOf, noneOf, untold, wasStatedUnusably } from './stated.js';

type Facts = ReadonlyMap<string, Fact>;

/** The skirt of the head as a part of the neck: how thick it is, and how far it reaches from the head's center. */
export function skirtFacts(facts: Facts): readonly Fact[] {
  const skirt = skirtOf(facts);
  return [skirt, reachOf(skirt, facts)];
}

const SKIRT = { id: 'rim-skirt', unit: 'mm' };
const REACH = { id: 'rim-skirt-reach', unit: 'mm' };

/** The step lengths are told in: the thickest skirt of a head is thinner than it by that much. */
const LEAST = 1e-6;

function skirtOf(facts: Facts): Fact {
  const [flag, diameter] = [facts.get('skirted-head'), facts.get('skirt-diameter')];
  const [says, known] = [flagOf(flag), quantityOf(diameter)];
  if (diameter && known) {
    if (says === false) return untold(SKIRT, 'conflicting', ['skirted-head', diameter.id]);
    const head = quantityOf(facts.get('head-diameter'));
    return head && known.high >= head.low
      ? untold(SKIRT, 'conflicting', ['head-diameter', diameter.id])
      : { ...diameter, id: SKIRT.id };
  }
  if (diameter && wasStatedUnusably(diameter)) return untold(SKIRT, 'refused', needsOf(diameter));
  if (flag && wasStatedUnusably(flag)) return untold(SKIRT, 'refused', needsOf(flag));
  if (flag && says === false) return noneOf(SKIRT, flag);
  if (flag && says === true) return someSkirt(flag, facts);
  return untold(SKIRT, 'not-recorded', ['skirt-diameter']);
}

/** A skirt of unknown size is somewhere between none and as thick as the head: what holds for both ends is known. */
function someSkirt(flag: Fact, facts: Facts): Fact {
  const head = exactNumber(facts.get('head-diameter'));
  if (head === undefined) return untold(SKIRT, 'input-missing', ['skirt-diameter']);
  return {
    ...noneOf(SKIRT, flag),
    state: {
      status: 'present',
      value: { kind: 'quantity', interval: { low: 0, high: head - LEAST } },
    },
    narrowedBy: ['skirt-diameter'],
  };
}

/** The skirt leaves the head's sphere and goes on for its length along the neck. */
function reachOf(skirt: Fact, facts: Facts): Fact {
  const length = facts.get('skirt-length');
  if (length && wasStatedUnusably(length)) return untold(REACH, 'refused', needsOf(length));
  const [along, thickness, inner] = [
    exactNumber(length),
    exactNumber(skirt),
    exactNumber(facts.get('head-diameter')),
  ];
  if (!length || !quantityOf(length)) return untold(REACH, 'not-recorded', ['skirt-length']);
  if (along === undefined || inner === undefined || thickness === undefined || thickness >= inner) {
    const open = [
      ...(along === undefined ? [length.id] : []),
      ...(inner === undefined ? ['head-diameter'] : []),
      ...(thickness === undefined ? ['skirt-diameter'] : []),
    ];
    return untold(REACH, 'input-missing', open);
  }
  const reach = Math.sqrt((inner / 2) ** 2 - (thickness / 2) ** 2) + along;
  return {
    ...length,
    id: REACH.id,
    state: { status: 'present', value: { kind: 'quantity', interval: exactly(roundForUnit(reach, 'mm')) } },
  };
}

function flagOf(fact: Fact | undefined): boolean | undefined {
  return fact?.state.status === 'present' && fact.state.value.kind === 'flag'
    ? fact.state.value.flag
    : undefined;
}

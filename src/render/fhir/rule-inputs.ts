import type { DataRequirement } from 'fhir/r4.js';
import { sortedUnique } from '../../base/order.js';
import { deriveFacts } from '../../engine/derive.js';
import { unknownFact } from '../../facts/fact.js';
import { conditionFacts } from '../../rulebook/condition-facts.js';
import type { Rule, Rulebook } from '../../rulebook/types.js';
import { dataRequirement } from './data-requirement.js';

/** The data a rule reads, each kind once; what a computation is worked out from stands in its place. */
export function ruleInputs(rule: Rule, rulebook: Rulebook): readonly DataRequirement[] {
  const asked = [...conditionFacts(rule.appliesWhen), ...conditionFacts(rule.when)];
  const facts = sortedUnique(
    asked.flatMap((id) => factsBehind(id, rulebook)).flatMap((id) => recordedBehind(id, rulebook)),
  );
  const all = new Map(
    facts.map((fact) => {
      const requirement = dataRequirement(fact, rulebook);
      return [JSON.stringify(requirement), requirement] as const;
    }),
  );
  return [...all.values()];
}

/** A fact is itself; a computation is its inputs, with the facts that a variant puts in for some of them. */
function factsBehind(id: string, { computations }: Rulebook): readonly string[] {
  const [, computation = id, standIns = ''] = /^([^[]+)\[(.+)\]$/.exec(id) ?? [];
  const file = computations.get(computation);
  if (!file) return [id];
  const put = new Map(
    standIns.split(',').map((pair) => {
      const [input = '', fact = ''] = pair.split('=');
      return [input, fact] as const;
    }),
  );
  return file.inputs.map(({ fact }) => put.get(fact) ?? fact);
}

/** A derived fact is what the engine asks for where nothing at all is recorded; any other fact is itself. */
function recordedBehind(id: string, rulebook: Rulebook): readonly string[] {
  if (rulebook.factById.get(id)?.kind !== 'derived') return [id];
  const known = neededOf.get(rulebook) ?? neededByDerived(rulebook);
  neededOf.set(rulebook, known);
  return known.get(id) ?? [id];
}

const neededOf = new WeakMap<Rulebook, ReadonlyMap<string, readonly string[]>>();

function neededByDerived({ facts, knowledge }: Rulebook): ReadonlyMap<string, readonly string[]> {
  const recorded = facts.filter(({ kind }) => kind !== 'derived').map(({ id }) => id);
  const nothing = new Map(recorded.map((id) => [id, unknownFact(id, 'not-recorded')] as const));
  const needed = [...deriveFacts(nothing, 'planned', knowledge).values()].flatMap(({ id, state }) =>
    state.status === 'unknown' ? [[id, state.needs] as const] : [],
  );
  return new Map(needed);
}

import { ruleState, serviceState } from '../rulebook/governance.js';
import type { Mode, Stated } from '../rulebook/governance.js';
import type { Site } from '../rulebook/site.js';
import type { Rule, Rulebook } from '../rulebook/types.js';
import { siteServiceId } from './services.js';
import type { Service } from './services.js';

/** What an installation lets one call say. */
export interface States {
  readonly service: Stated;
  /** Rules that are evaluated here and not shown, by id, sorted. */
  readonly silent: readonly string[];
  /** Rules that are not evaluated, by id, sorted. */
  readonly off: readonly string[];
}

/** A limit this installation set for itself, beside the rulebook's. */
export interface LocalParameter {
  readonly id: string;
  readonly value: number;
  readonly unit: string;
  readonly rulebook: number;
}

export interface StatesInput {
  readonly service: Service;
  readonly site?: Site;
  readonly mode?: Mode;
  readonly now: string;
}

/** What is off, silent or speaking at this service and time. */
export function statesOf(
  { service, site, mode = 'development', now }: StatesInput,
  rulebook: Rulebook,
): States {
  const governed = { rulebook, ...(site && { site }), mode };
  const { hook } = service;
  const inState = (state: 'off' | 'silent'): readonly string[] =>
    [...(site?.rules.keys() ?? [])]
      .filter((rule) => ruleState(site, { rule, hook, now }).state === state)
      .sort();
  return {
    service: serviceState(governed, siteServiceId(service)),
    silent: inState('silent'),
    off: inState('off'),
  };
}

/** The rules of an entry that may show a card, and those that are only evaluated. */
export function audible(
  heard: readonly Rule[],
  { silent }: States,
): { readonly spoken: readonly Rule[]; readonly hushed: readonly Rule[] } {
  if (silent.length === 0) return { spoken: heard, hushed: [] };
  const quiet = new Set(silent);
  return {
    spoken: heard.filter(({ id }) => !quiet.has(id)),
    hushed: heard.filter(({ id }) => quiet.has(id)),
  };
}

/** Every limit of this installation that differs in being its own, in the order of the site file. */
export function localParameters({ parameters, shippedLimits }: Rulebook): readonly LocalParameter[] {
  return [...(shippedLimits ?? [])].flatMap(([id, rulebook]) => {
    const parameter = parameters.get(id);
    return typeof parameter?.value === 'number'
      ? [{ id, value: parameter.value, unit: parameter.unit, rulebook }]
      : [];
  });
}

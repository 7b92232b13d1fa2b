import type { Names, Report } from './check-rules.js';
import type { ParsedPack } from './parse-pack.js';
import type { Parameter } from './types.js';

/** What a site may set and what it may not turn off: both are said by the rulebook, and held here. */
export function checkGoverned(parsed: ParsedPack, names: Names, report: Report): void {
  checkLocked(parsed, report);
  const elsewhere = parametersElsewhere(parsed);
  const limits = new Set([...parsed.rules, ...parsed.conditions].flatMap(({ value }) => limitsIn(value)));
  for (const { file, value } of parsed.parameters) {
    if (!value.allowed) continue;
    const path = `parameters.${value.id}.allowed`;
    if (parsed.about && !parsed.about.value.governance)
      report(file, path, 'none, as rulebook.json has no governance', value.id);
    for (const [expected, found] of faultsOf(value)) report(file, path, expected, found);
    if (!limits.has(value.id)) report(file, path, 'a limit that some condition asks about', value.id);
    const user = elsewhere.get(value.id);
    if (user !== undefined)
      report(file, path, 'a parameter that only rules and named conditions use', `one that ${user} uses`);
    if (names.facts.has(value.id) || names.computations.has(value.id))
      report(file, path, 'a parameter no fact or computation shares its name with', value.id);
  }
}

function faultsOf({ value, use, allowed }: Parameter): readonly (readonly [string, string])[] {
  if (!allowed) return [];
  if (typeof value !== 'number') return [['a parameter that is one number', 'another']];
  const { low, high } = allowed;
  return [
    ...(use === 'threshold' || use === 'tolerance' ? [] : [['a threshold or a tolerance', use] as const]),
    ...(low < high ? [] : [['low below high', `${low} and ${high}`] as const]),
    ...(value >= low && value <= high ? [] : [[`an interval around ${value}`, `${low} to ${high}`] as const]),
  ];
}

/** What can't be turned off is a rule, named once, that has a card to be seen by. */
function checkLocked(parsed: ParsedPack, report: Report): void {
  const rules = new Map(parsed.rules.map(({ value }) => [value.id, value]));
  const locked = parsed.about?.value.governance?.locked ?? [];
  for (const [index, id] of locked.entries()) {
    if (parsed.refusedRules.includes(id)) continue;
    const rule = rules.get(id);
    if (!rule || rule.tells !== undefined || locked.indexOf(id) !== index)
      report('rulebook.json', `governance.locked[${index}]`, 'a rule that has a card, named once', id);
  }
}

/** Parameters of facts and computations, which are put in when the rulebook is built, and by whom. */
function parametersElsewhere(parsed: ParsedPack): ReadonlyMap<string, string> {
  return new Map(
    [...parsed.facts, ...parsed.computations].flatMap(({ value }) =>
      referencesIn(value).map((id) => [id, value.id] as const),
    ),
  );
}

function referencesIn(value: unknown): readonly string[] {
  if (typeof value !== 'object' || value === null) return [];
  if ('parameter' in value && typeof value.parameter === 'string') return [value.parameter];
  return Object.values(value).flatMap(referencesIn);
}

/** Parameters that conditions compare with. */
function limitsIn(value: unknown): readonly string[] {
  if (typeof value !== 'object' || value === null) return [];
  if ('operator' in value && 'value' in value) return referencesIn(value.value);
  return Object.values(value).flatMap(limitsIn);
}

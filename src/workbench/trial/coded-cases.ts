import { sortedUnique } from '../../base/order.js';
import { ICD_10_CM, ICD_10_PCS, foldIcdCode, isIcdSystem } from '../../fhir/codings.js';
import type { JsonObject } from '../../fhir/json.js';
import type { Rulebook } from '../../rulebook/types.js';
import type { CodeMeaning, CodeMeanings, PublishedCodes } from './code-schema.js';
import { codedBundle } from './coded-bundle.js';
import { SYSTEMS } from './system-names.js';
import type { FactsExpected, TrialCase } from './trial-case.js';

const NOW = '2026-11-24T10:00:00Z';

/** One published code, standing in one place of a record. */
export interface CodedAs {
  readonly system: string;
  readonly code: string;
  readonly as: CodeMeaning['as'];
  readonly with?: string;
  readonly underWay?: true;
  /** The fact an ordinary value is of: it is recorded in the unit of that fact. */
  readonly valueOf?: string;
}

/**
 * A patient for each published code of whom that code is recorded and nothing else, with the facts it must give.
 * Nothing here is read from the value sets: a thinned list must not thin its own test.
 */
export function codedCases(
  published: PublishedCodes,
  { meanings }: CodeMeanings,
  rulebook: Rulebook,
): readonly TrialCase[] {
  const listed = new Map(published.map(({ concept, codes }) => [concept, codes]));
  const covering = meanings.map((meaning): Covering => {
    const codes = (listed.get(meaning.concept) ?? []).filter((copy) => isMeant(meaning, copy));
    return { meaning, codes };
  });
  const all = covering.flatMap(({ meaning, codes }) =>
    codes.flatMap(({ system, code, is_prefix }) =>
      codesBelow(meaning, { system, code, prefix: is_prefix }).map((one) => placed(one, meaning)),
    ),
  );
  const unique = new Map(all.map((one) => [keyOf(one), one]));
  return [...unique.values()].map((one) => trialCase(one, covering, rulebook));
}

interface Covering {
  readonly meaning: CodeMeaning;
  readonly codes: PublishedCodes[number]['codes'];
}

function isMeant(
  { systems, only }: CodeMeaning,
  { system, code }: { system: string; code: string },
): boolean {
  if (systems && !systems.some((name) => (SYSTEMS[name] ?? name) === system)) return false;
  return !only || only.some((start) => code.startsWith(start));
}

/** A category as the billable codes below it where they are listed; a code of ICD-10-PCS has seven characters. */
function codesBelow(
  { below = {} }: CodeMeaning,
  { system, code, prefix }: { readonly system: string; readonly code: string; readonly prefix: boolean },
): readonly { readonly system: string; readonly code: string }[] {
  const leaves = below[code];
  if (leaves) return leaves.map((leaf) => ({ system, code: leaf }));
  return [{ system, code: prefix && system === ICD_10_PCS ? code.padEnd(7, 'Z') : code }];
}

function placed(
  { system, code }: { readonly system: string; readonly code: string },
  meaning: CodeMeaning,
): CodedAs {
  return {
    system,
    code,
    as: meaning.as,
    ...(meaning.with !== undefined && { with: meaning.with }),
    ...(meaning.underWay && { underWay: true }),
    ...(meaning.as === 'observation' && { valueOf: meaning.facts?.[0] ?? '' }),
  };
}

function keyOf({ system, code, as, with: beside, underWay }: CodedAs): string {
  return [as, system, code, beside ?? '-', underWay ? 'under way' : 'done'].join(' ');
}

function trialCase(given: CodedAs, covering: readonly Covering[], rulebook: Rulebook): TrialCase {
  const state = given.underWay ? ' under way' : '';
  return {
    name: `codes/${given.as}${state} ${given.system}|${given.code}`,
    hook: given.as === 'appointment' ? 'appointment-book' : 'order-sign',
    bundle: codedBundle(given, NOW, rulebook),
    now: NOW,
    teaches: `What the code ${given.code} alone says, recorded as ${given.as}${state}.`,
    expects: expected(given, covering, rulebook),
  };
}

/** What every meaning of the same place that holds the code says of it. */
function expected(given: CodedAs, covering: readonly Covering[], rulebook: Rulebook): FactsExpected {
  const present = new Set<string>();
  const unclear = new Set<string>();
  const operations = new Set<string>();
  for (const { meaning, codes } of covering) {
    if (meaning.as !== given.as || meaning.with !== given.with || meaning.underWay !== given.underWay)
      continue;
    if (!codes.some((copy) => covers(copy, given)) || isNamed(meaning.not, given)) continue;
    const { facts = [], operation } = meaning;
    const [first] = facts;
    if (operation !== undefined) operations.add(operation);
    if (isNamed(meaning.unclear, given) || isNamed(meaning.sited, given)) {
      if (first !== undefined) unclear.add(first);
    } else if (isPhase(meaning, given)) for (const fact of facts) present.add(fact);
  }
  const [operation] = operations;
  return {
    kind: 'facts',
    among: amongFor(given, rulebook),
    present: sortedUnique([...present]),
    unclear: sortedUnique([...unclear]),
    ...((given.as === 'order' || given.as === 'appointment') && { operation: operation ?? 'none' }),
    silenced: given.underWay === true,
  };
}

function amongFor({ as }: CodedAs, { facts }: Rulebook): readonly string[] {
  const kinds: readonly string[] = as === 'observation' ? ['observation'] : ['condition', 'history'];
  return facts.filter(({ kind }) => kinds.includes(kind)).map(({ id }) => id);
}

function covers(
  copy: { readonly system: string; readonly code: string; readonly is_prefix: boolean },
  given: CodedAs,
): boolean {
  if (copy.system !== given.system) return false;
  return copy.is_prefix
    ? foldIcdCode(given.code).startsWith(foldIcdCode(copy.code))
    : foldIcdCode(copy.code) === foldIcdCode(given.code);
}

function isNamed(codes: Readonly<Record<string, string>> | undefined, given: CodedAs): boolean {
  return Object.keys(codes ?? {}).some((code) =>
    isIcdSystem(given.system) ? foldIcdCode(given.code).startsWith(foldIcdCode(code)) : code === given.code,
  );
}

function isPhase({ seventh }: CodeMeaning, { system, code }: CodedAs): boolean {
  const character = foldIcdCode(code).charAt(6);
  return seventh === undefined || system !== ICD_10_CM || character === '' || seventh.includes(character);
}

/** Every coding of a resource tree as `system|code`, ICD folded as it is compared. */
export function codingsWithin(value: unknown, found: Set<string> = new Set<string>()): ReadonlySet<string> {
  if (Array.isArray(value)) for (const item of value) codingsWithin(item, found);
  else if (typeof value === 'object' && value !== null) {
    const { system, code } = value as JsonObject;
    if (typeof system === 'string' && typeof code === 'string')
      found.add(`${system}|${isIcdSystem(system) ? foldIcdCode(code) : code}`);
    for (const member of Object.values(value)) codingsWithin(member, found);
  }
  return found;
}

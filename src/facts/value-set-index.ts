import { codingKey, foldIcdCode, isIcdSystem } from '../fhir/codings.js';
import type { Coding } from '../fhir/codings.js';

/** The codes of one value set, reduced to what matching needs. */
export interface CodeList {
  readonly id: string;
  readonly exact: readonly Required<Coding>[];
  /** ICD codes that stand for themselves and everything below them. */
  readonly prefixes: readonly Required<Coding>[];
  readonly excluded: readonly Required<Coding>[];
  readonly excludedPrefixes: readonly Required<Coding>[];
}

const MOST_REMEMBERED = 20_000;

/** Answers which value sets a coding belongs to, by `system|code` and, for ICD, by prefix; never by text. */
export class ValueSetIndex {
  readonly #exact = new Map<string, Set<string>>();
  readonly #prefixes = new Map<string, Set<string>>();
  readonly #excluded = new Map<string, Set<string>>();
  readonly #excludedPrefixes = new Map<string, Set<string>>();
  readonly #known = new Map<string, ReadonlySet<string>>();

  constructor(lists: readonly CodeList[]) {
    for (const list of lists) {
      addAll(this.#exact, list.exact, list.id);
      addAll(this.#prefixes, list.prefixes, list.id);
      addAll(this.#excluded, list.excluded, list.id);
      addAll(this.#excludedPrefixes, list.excludedPrefixes, list.id);
    }
  }

  /** The ids of all value sets that hold this coding. */
  setsOf(coding: Coding): ReadonlySet<string> {
    const key = codingKey(coding);
    if (key === undefined) return NONE;
    const known = this.#known.get(key);
    if (known) return known;
    const sets = this.#lookUp(coding);
    // Codes come from outside: what is remembered must not grow with them without end.
    if (this.#known.size < MOST_REMEMBERED) this.#known.set(key, sets);
    return sets;
  }

  #lookUp(coding: Coding): ReadonlySet<string> {
    const found = lookUp(coding, this.#exact, this.#prefixes);
    if (found.size === 0) return found;
    const excluded = lookUp(coding, this.#excluded, this.#excludedPrefixes);
    return excluded.size === 0 ? found : new Set([...found].filter((id) => !excluded.has(id)));
  }

  /** The first coding that belongs to the value set. */
  match(codings: readonly Coding[], valueSet: string): Coding | undefined {
    return codings.find((coding) => this.setsOf(coding).has(valueSet));
  }
}

function addAll(map: Map<string, Set<string>>, codings: readonly Required<Coding>[], id: string): void {
  for (const coding of codings) {
    const code = isIcdSystem(coding.system) ? foldIcdCode(coding.code) : coding.code;
    const key = `${coding.system}|${code}`;
    const ids = map.get(key) ?? new Set<string>();
    ids.add(id);
    map.set(key, ids);
  }
}

const NONE: ReadonlySet<string> = new Set();

function lookUp(
  coding: Coding,
  exact: ReadonlyMap<string, ReadonlySet<string>>,
  prefixes: ReadonlyMap<string, ReadonlySet<string>>,
): ReadonlySet<string> {
  const key = codingKey(coding);
  if (key === undefined || coding.code === undefined || coding.system === undefined) return NONE;
  const direct = exact.get(key) ?? NONE;
  if (!isIcdSystem(coding.system) || prefixes.size === 0) return direct;
  const found = new Set(direct);
  // The shortest ICD category has three characters.
  for (let length = 3; length <= coding.code.length; length += 1) {
    const ids = prefixes.get(`${coding.system}|${coding.code.slice(0, length)}`);
    if (ids) for (const id of ids) found.add(id);
  }
  return found;
}

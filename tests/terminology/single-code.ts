// A patient of whom one published code is recorded and nothing else, and what that code should mean.
import { expect } from 'vitest';
import type { Hip } from '../../src/facts/definitions.js';
import type { JsonObject } from '../../src/fhir/json.js';
import {
  CODE,
  ICD,
  PATIENT,
  SNOMED,
  condition,
  hipOf,
  order,
  read,
  searchset,
  snomed,
} from '../facts/records.js';
import { shipped } from '../rulebook/shipped.js';
import { CONDITIONS, PROCEDURES } from './code-meanings.js';
import type { Meaning } from './code-meanings.js';
import {
  april2025,
  april2026,
  pcs,
  plain,
  publishedConcepts,
  sideNamedBy,
  sideOf,
} from './terminology-files.js';
import type { PublishedCode, Side } from './terminology-files.js';

export const BOTH = order({ bodySite: [snomed(CODE.leftHipSite), snomed(CODE.rightHipSite)] });
export const HIPS = ['left', 'right'] as const;

const conditionFacts = shipped.facts.filter(({ kind }) => kind === 'condition');
export const scopeOf = (id: string): string => shipped.factById.get(id)?.scope ?? 'no such fact';
export const ranked = (names: Iterable<string>): readonly string[] => [...new Set(names)].sort();

export type Kind = 'condition' | 'procedure';

export interface Coded {
  readonly kind: Kind;
  readonly system: string;
  readonly code: string;
  /** The side its published title names; undefined when it names none or no title was read. */
  readonly side: Side | undefined;
  readonly titled: boolean;
}

export function procedure(code: unknown, more: JsonObject = {}): JsonObject {
  return {
    resourceType: 'Procedure',
    id: 'p',
    status: 'completed',
    subject: PATIENT,
    code,
    performedDateTime: '2019-03-04',
    ...more,
  };
}

/** Facts by state, for each hip of a patient whose record holds this and nothing else. */
export function factsOf(kind: Kind, code: unknown, more: JsonObject = {}) {
  const record = read(
    kind === 'condition'
      ? { orders: [BOTH], conditions: [condition('c', code, more)] }
      : { orders: [BOTH], prefetch: { procedures: searchset(procedure(code, more)) } },
  );
  const of = (hip: Hip) => {
    const { facts } = hipOf(record, hip);
    const states = conditionFacts.map(({ id }) => [id, facts.get(id)?.state] as const);
    const withStatus = (wanted: string): readonly string[] =>
      ranked(
        states.flatMap(([id, state]) =>
          (state?.status === 'unknown' ? state.reason : state?.status) === wanted ? [id] : [],
        ),
      );
    return { present: withStatus('present'), unclear: withStatus('code-unclear') };
  };
  return { left: of('left'), right: of('right') };
}

// Typed by hand from the code titles, where no list of billable codes was copied.
const MORE_LEAVES: Readonly<Record<string, readonly string[]>> = {
  'S73.0': ['S73.001A', 'S73.005D', 'S73.016A', 'S73.034S'],
  'T56.89': ['T56.891A'],
};
const leaves = [...april2026, ...Object.keys(april2025)];
const below = (code: string, prefix: string): boolean => plain(code).startsWith(plain(prefix));

/** A category as the billable codes below it; one without any is itself billable (M43.26), or completed (ICD-10-PCS). */
export function billable(kind: Kind, copy: PublishedCode, exact: readonly string[]): readonly Coded[] {
  const { system, code } = copy;
  const own = { kind, system, code, side: sideOf(copy), titled: true };
  if (!copy.is_prefix) return [own];
  // A code of ICD-10-PCS has seven characters; Z stands for none.
  if (system === pcs) return [{ ...own, code: code.padEnd(7, 'Z') }];
  const found = [...leaves, ...exact, ...(MORE_LEAVES[code] ?? [])].filter((leaf) => below(leaf, code));
  if (found.length === 0) return [own];
  return ranked(found).map((leaf) => {
    const title = april2025[leaf];
    const side = sideOf(copy) ?? (title === undefined ? undefined : sideNamedBy(title));
    return { kind, system, code: leaf, side, titled: side !== undefined || title !== undefined };
  });
}

const READ_SYSTEMS = [ICD, SNOMED, pcs];
export const exactIcd = publishedConcepts.flatMap(({ codes }) =>
  codes.filter((copy) => copy.system === ICD && !copy.is_prefix).map(({ code }) => code),
);
export const codesOf = (name: string): readonly PublishedCode[] =>
  (publishedConcepts.find((each) => each.concept === name)?.codes ?? []).filter(({ system }) =>
    READ_SYSTEMS.includes(system),
  );
const covers = (copy: PublishedCode, given: Coded): boolean =>
  copy.system === given.system &&
  (copy.is_prefix ? below(given.code, copy.code) : plain(given.code) === plain(copy.code));
const named = (codes: Readonly<Record<string, string>> | undefined, given: Coded): boolean =>
  Object.keys(codes ?? {}).some((code) =>
    given.system === SNOMED ? code === given.code : below(given.code, code),
  );

/** What every mapped concept that holds the code says of it. */
export function expected(given: Coded) {
  const present = new Set<string>();
  const unclear = new Set<string>();
  const sited = new Set<string>();
  const meanings = given.kind === 'condition' ? CONDITIONS : PROCEDURES;
  for (const [name, meaning] of Object.entries(meanings)) {
    if (!codesOf(name).some((copy) => covers(copy, given)) || named(meaning.not, given)) continue;
    const [first = ''] = meaning.facts;
    if (named(meaning.unclear, given)) unclear.add(first);
    else if (named(meaning.sited, given)) sited.add(first);
    else if (isPhase(meaning, given)) for (const fact of meaning.facts) present.add(fact);
  }
  return { present: ranked(present), unclear: ranked([...unclear, ...sited]), sited: ranked(sited) };
}

function isPhase({ seventh }: Meaning, given: Coded): boolean {
  const character = plain(given.code).charAt(6);
  return seventh === undefined || given.system !== ICD || character === '' || seventh.includes(character);
}

export const all: readonly (readonly [Kind, Readonly<Record<string, Meaning>>])[] = [
  ['condition', CONDITIONS],
  ['procedure', PROCEDURES],
];
export const cases = all.flatMap(([kind, meanings]) =>
  Object.keys(meanings).map(
    (name) => [kind, name, codesOf(name).flatMap((copy) => billable(kind, copy, exactIcd))] as const,
  ),
);

const here = (ids: readonly string[], given: Coded, hip: 'left' | 'right'): readonly string[] =>
  ids.filter(
    (id) =>
      scopeOf(id) === 'patient' ||
      given.side === undefined ||
      given.side === hip ||
      given.side === 'bilateral',
  );

/** The facts of both hips must be those expected; a code whose title was not read is checked for what, not where. */
export function check(
  given: Coded,
  found: ReturnType<typeof factsOf>,
  want: ReturnType<typeof expected>,
): void {
  const label = `${given.system}|${given.code}`;
  if (given.titled) {
    for (const hip of HIPS) {
      expect(found[hip].present, `${label} ${hip}`).toEqual(here(want.present, given, hip));
      expect(found[hip].unclear, `${label} ${hip}`).toEqual(here(want.unclear, given, hip));
    }
    return;
  }
  expect(ranked(HIPS.flatMap((hip) => found[hip].present)), label).toEqual(want.present);
  expect(ranked(HIPS.flatMap((hip) => found[hip].unclear)), label).toEqual(want.unclear);
}

import type { z } from 'zod';
import { compareText } from '../base/order.js';
import type { FactDefinition } from '../facts/definitions.js';
import type { CodeList } from '../facts/value-set-index.js';
import type { valueSetSchema } from './terminology-schema.js';

type ValueSet = z.infer<typeof valueSetSchema>;
type Part =
  | NonNullable<NonNullable<ValueSet['compose']>['include']>[number]
  | NonNullable<NonNullable<ValueSet['compose']>['exclude']>[number];
type Code = CodeList['exact'][number];

const OVERLAY = '-snomed-overlay';

/** The set that an overlay widens; any other set is itself. */
export function baseId(id: string): string {
  return id.endsWith(OVERLAY) ? id.slice(0, -OVERLAY.length) : id;
}

/** Reduces ValueSets to what matching needs, overlays joined to the set they widen. A set without `compose` has no codes. */
export function codeListsOf(valueSets: readonly ValueSet[]): readonly CodeList[] {
  const byUrl = new Map(valueSets.map((set) => [set.url, set]));
  const ids = [...new Set(valueSets.map(({ id }) => baseId(id)))].sort(compareText);
  return ids.map((id) => {
    const parts = valueSets.filter((set) => baseId(set.id) === id);
    const include = parts.flatMap(({ compose }) => compose?.include ?? []);
    const exclude = parts
      .flatMap(({ compose }) => compose?.exclude ?? [])
      .flatMap((part) => expand(part, byUrl));
    return {
      id,
      exact: include.flatMap(exactCodes),
      prefixes: include.flatMap(prefixCodes),
      excluded: exclude.flatMap(exactCodes),
      excludedPrefixes: exclude.flatMap(prefixCodes),
    };
  });
}

function expand(part: Part, byUrl: ReadonlyMap<string, ValueSet>): readonly Part[] {
  const urls = Array.isArray(part['valueSet']) ? (part['valueSet'] as readonly string[]) : [];
  return [part, ...urls.flatMap((url) => byUrl.get(url)?.compose?.include ?? [])];
}

function exactCodes(part: Part): readonly Code[] {
  const { system } = part;
  return system === undefined ? [] : (part.concept ?? []).map(({ code }) => ({ system, code }));
}

function prefixCodes(part: Part): readonly Code[] {
  const { system } = part;
  return system === undefined ? [] : (part.filter ?? []).map(({ value }) => ({ system, code: value }));
}

/** The LOINC codes for which ordinary observations are asked, sorted. */
export function laboratoryCodesOf(
  facts: readonly FactDefinition[],
  lists: readonly CodeList[],
): readonly string[] {
  const sets = new Set(facts.flatMap((fact) => (fact.kind === 'observation' ? [fact.valueSet] : [])));
  const codes = lists.filter(({ id }) => sets.has(id)).flatMap(({ exact }) => exact.map(({ code }) => code));
  return [...new Set(codes)].sort(compareText);
}

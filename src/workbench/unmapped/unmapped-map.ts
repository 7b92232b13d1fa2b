import { byText } from '../../base/order.js';
import type { JsonObject } from '../../fhir/json.js';
import type { UnmappedReport, UnmappedRow } from './unmapped-report.js';

/**
 * A ConceptMap (FHIR R4) with one line for each local code that a map could make understood, its target left open. As
 * it stands a site refuses it: somebody who knows the local codes fills in targets, and removes lines that have nothing
 * to do with a hip.
 */
export function unmappedMap({ local }: UnmappedReport): JsonObject {
  const groups = new Map<
    string,
    { readonly source: string; readonly target: string; readonly codes: Codes }
  >();
  for (const row of local) {
    const { system: source, code, wants, isMappedNow } = row;
    if (!wants || isMappedNow) continue;
    const key = `${source} ${wants.target}`;
    const group = groups.get(key) ?? { source, target: wants.target, codes: new Map<string, string[]>() };
    groups.set(key, group);
    group.codes.set(code, [...(group.codes.get(code) ?? []), commentOn(row)]);
  }
  return {
    resourceType: 'ConceptMap',
    status: 'draft',
    group: [...groups].sort(byText(([key]) => key)).map(([, { source, target, codes }]) => ({
      source,
      target,
      element: [...codes].map(([code, comments]) => ({
        code,
        target: [{ equivalence: 'unmatched', comment: comments.join('; ') }],
      })),
    })),
  };
}

/** By code, where it stood and what is asked of whoever fills in the line. */
type Codes = Map<string, readonly string[]>;

function commentOn({ resourceType, element, count, wants }: UnmappedRow): string {
  return `${resourceType}.${element}, ${count} times: ${wants?.says ?? ''}?`;
}

import type { JsonObject } from '../fhir/json.js';
import type { MapEntry, SiteMaps } from './site-map-index.js';

/** A local code that was translated: where it stood, which it was, and by which map. */
export interface MappedCode {
  /** Resource type and path, such as `Observation.component.code`. */
  readonly element: string;
  readonly system: string;
  readonly code: string;
  readonly map: string;
}

/** A resource as our readers know it, and what was put in. */
export interface Translated {
  readonly resource: JsonObject;
  readonly mapped: readonly MappedCode[];
  /** Names of what the map supplied and the resource does not state: qualifiers, stage, side, unit, sign. */
  readonly assumed: readonly string[];
  /** The same in the rulebook's words, for a reader. */
  readonly assumptions: readonly string[];
  /** Where the resource says otherwise than the map: what it says was kept. */
  readonly remarks: readonly string[];
  /** Value and unit as they came, when sign or unit were changed. */
  readonly asFound?: { readonly value: string; readonly unit?: string };
}

/** One change of a resource; undefined when there is nothing to change. */
export type Step = (resource: JsonObject, maps: SiteMaps) => Translated | undefined;

const NONE: readonly never[] = [];

export function unchanged(resource: JsonObject): Translated {
  return { resource, mapped: NONE, assumed: NONE, assumptions: NONE, remarks: NONE };
}

/** A resource in which codes were translated and nothing was assumed. */
export function recoded(resource: JsonObject, mapped: readonly MappedCode[]): Translated {
  return { ...unchanged(resource), mapped };
}

export function mappedCode(element: string, { source, map }: MapEntry): MappedCode {
  return { element, system: source.system, code: source.code, map };
}

/** Takes steps one after the other; each sees what the ones before it made. */
export function inSteps(
  resource: JsonObject,
  maps: SiteMaps,
  steps: readonly Step[],
): Translated | undefined {
  let done: Translated | undefined;
  for (const step of steps) {
    const next = step(done?.resource ?? resource, maps);
    if (next) done = done ? joined(done, next) : next;
  }
  return done;
}

function joined(first: Translated, second: Translated): Translated {
  const asFound = first.asFound ?? second.asFound;
  return {
    resource: second.resource,
    mapped: [...first.mapped, ...second.mapped],
    assumed: [...first.assumed, ...second.assumed],
    assumptions: [...first.assumptions, ...second.assumptions],
    remarks: [...first.remarks, ...second.remarks],
    ...(asFound && { asFound }),
  };
}

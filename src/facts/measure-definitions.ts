import type { FactDefinition, MeasureDefinition } from './definitions.js';

/** Definitions belong to the rulebook and never change. */
const measuresOf = new WeakMap<readonly FactDefinition[], ReadonlyMap<string, MeasureDefinition>>();

/** The measures among the definitions of a rulebook, by id. */
export function measureDefinitions(
  definitions: readonly FactDefinition[],
): ReadonlyMap<string, MeasureDefinition> {
  const known = measuresOf.get(definitions);
  if (known) return known;
  const measures = definitions.filter(
    (definition): definition is MeasureDefinition => definition.kind === 'measure',
  );
  const byId = new Map(measures.map((definition) => [definition.id, definition]));
  measuresOf.set(definitions, byId);
  return byId;
}

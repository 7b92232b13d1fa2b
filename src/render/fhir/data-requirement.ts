import type { DataRequirement } from 'fhir/r4.js';
import { assertNever } from '../../base/never.js';
import type { Rulebook } from '../../rulebook/types.js';
import { canonicalOf, pinned } from './canonical.js';
import { valueSetVersions } from './terminology.js';

/** What would have to be recorded for a fact to be known, in computable form. */
export function dataRequirement(fact: string, rulebook: Rulebook): DataRequirement {
  const { factById, about } = rulebook;
  const definition = factById.get(fact);
  if (!definition) return { type: 'Observation' };
  const measure = (id: string): DataRequirement => ({
    type: 'Observation',
    codeFilter: [
      { path: 'code', code: [{ system: about.systems.measure, code: id, display: definition.title }] },
    ],
  });
  const fromSet = (type: DataRequirement['type'], valueSet: string | undefined): DataRequirement => ({
    type,
    ...(valueSet !== undefined && {
      codeFilter: [{ path: 'code', valueSet: pinnedSet(valueSet, rulebook) }],
    }),
  });
  switch (definition.kind) {
    case 'measure':
      return measure(definition.id);
    case 'carried-out':
      return measure(definition.of);
    case 'condition':
      return definition.valueSet === undefined
        ? fromSet('Procedure', definition.procedureValueSet)
        : fromSet('Condition', definition.valueSet);
    case 'observation':
      return fromSet('Observation', definition.valueSet);
    case 'operation':
      return { type: 'ServiceRequest' };
    case 'patient':
      return { type: 'Patient' };
    case 'history':
    case 'episodes':
    case 'first-dislocation':
    case 'replacement-kind':
      return { type: 'Procedure' };
    case 'version-sign':
      return measure(definition.of);
    case 'unclear':
    case 'after-replacement':
      return { type: 'Condition' };
    case 'derived':
    case 'finding':
    case 'presence':
    case 'aged':
      return { type: 'Observation' };
    default:
      return assertNever(definition);
  }
}

const versionsOf = new WeakMap<Rulebook, ReadonlyMap<string, string>>();

function pinnedSet(id: string, rulebook: Rulebook): string {
  const versions = versionsOf.get(rulebook) ?? valueSetVersions(rulebook);
  versionsOf.set(rulebook, versions);
  return pinned(canonicalOf('ValueSet', id), versions.get(id) ?? rulebook.about.version);
}

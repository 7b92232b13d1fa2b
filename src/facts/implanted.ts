import { byText } from '../base/order.js';
import { canonicalJson } from '../base/canonical-json.js';
import { conditionFact } from './condition-facts.js';
import type { DiagnosisList } from './condition-facts.js';
import type { ConditionDefinition, Side } from './definitions.js';
import type { FactKnowledge } from './knowledge.js';
import type { SideReading } from './laterality.js';

/** A hip replacement that is in place, and how that is known. */
export interface Implanted {
  readonly name: string;
  readonly side: SideReading;
  readonly by: 'procedure' | 'device' | 'condition';
  readonly date: string | undefined;
}

/** Diagnoses that only a replaced hip can have: the prosthesis itself, or what happened to it. */
export function implantedByDiagnosis(list: DiagnosisList, knowledge: FactKnowledge): readonly Implanted[] {
  const definitions = knowledge.definitions.filter(
    (definition): definition is ConditionDefinition =>
      definition.kind === 'condition' && knowledge.implantedBy.has(definition.id),
  );
  return definitions.flatMap((definition) =>
    (['left', 'right'] as const satisfies readonly Side[]).flatMap((side): readonly Implanted[] => {
      const { state, provenance } = conditionFact(definition, side, list, knowledge.remarks);
      if (state.status !== 'present') return [];
      return provenance.from.map((name) => ({
        name,
        side: { kind: 'sides', sides: [side] },
        by: 'condition',
        date: provenance.date,
      }));
    }),
  );
}

/** One list, in an order of its own. */
export function sortImplanted(items: readonly Implanted[]): readonly Implanted[] {
  return [...items].sort(byText((item) => canonicalJson([item.name, item.by, item.side])));
}

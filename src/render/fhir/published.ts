import type {
  CapabilityStatement,
  CodeSystem,
  ConceptMap,
  Library,
  OperationDefinition,
  PlanDefinition,
  Questionnaire,
  UsageContext,
  ValueSet,
} from 'fhir/r4.js';
import type { Rulebook } from '../../rulebook/types.js';

/** A resource of the knowledge, with all that names one version of it. */
export type Published = (
  | CapabilityStatement
  | CodeSystem
  | ConceptMap
  | Library
  | OperationDefinition
  | PlanDefinition
  | Questionnaire
  | ValueSet
) & {
  readonly id: string;
  readonly url: string;
  readonly version: string;
  readonly name: string;
  readonly title: string;
};

export const PUBLISHER = 'Kotyle';

const COPYRIGHT =
  'Rules, wording and the codes of the project itself: Apache License 2.0. Code systems of others keep their own terms, told in each value set.';

const USAGE_CONTEXT = 'http://terminology.hl7.org/CodeSystem/usage-context-type';

interface Head {
  readonly status: Rulebook['about']['status'];
  readonly experimental: boolean;
  readonly publisher: string;
  readonly copyright: string;
}

/** What every resource made from the rulebook says of who publishes it and how far it may be trusted. */
export function publicationHead({ about }: Rulebook): Head {
  const { status, experimental } = about;
  return { status, experimental, publisher: PUBLISHER, copyright: COPYRIGHT };
}

/** Whom the rules are meant for, in the rulebook's own words. */
export function useContext({ about }: Rulebook): UsageContext[] {
  const [meantFor] = about.limits ?? [];
  if (meantFor === undefined) return [];
  return [
    {
      code: { system: USAGE_CONTEXT, code: 'user', display: 'User Type' },
      valueCodeableConcept: { text: meantFor },
    },
  ];
}

/** A list as a member; FHIR has no empty lists. */
export function some<Name extends string, Item>(
  name: Name,
  list: readonly Item[],
): Partial<Record<Name, Item[]>> {
  return list.length === 0 ? {} : ({ [name]: [...list] } as Record<Name, Item[]>);
}

/** A name that a program can use, as R4 asks for: letters and digits from a capital on. */
export function programName(id: string): string {
  return id
    .split(/[^A-Za-z0-9]+/)
    .map((word) => word.charAt(0).toUpperCase() + word.slice(1))
    .join('');
}

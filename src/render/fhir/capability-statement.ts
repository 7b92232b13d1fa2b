import type { CapabilityStatement, CapabilityStatementRestResource } from 'fhir/r4.js';
import type { Rulebook } from '../../rulebook/types.js';
import { canonicalOf, pinned } from './canonical.js';
import { publicationHead } from './published.js';
import type { Published } from './published.js';
import { PUBLISHED_TYPES, SEARCH_PARAMETERS, searchParameterDefinition } from './search-parameters.js';
import type { PublishedType, SearchParameterName } from './search-parameters.js';

export interface ServedBy {
  readonly engine: string;
  readonly mode: 'development' | 'production';
  /** Where clients reach the service, where that is known. */
  readonly publicUrl?: string;
}

/** What this installation's endpoint offers: the knowledge to read and to search, and one operation. */
export function capabilityStatement(
  rulebook: Rulebook,
  operation: Published,
  { engine, mode, publicUrl }: ServedBy,
): CapabilityStatement & Published {
  const { about } = rulebook;
  return {
    resourceType: 'CapabilityStatement',
    id: 'kotyle',
    url: canonicalOf('CapabilityStatement', 'kotyle'),
    version: about.version,
    name: 'Kotyle',
    title: 'Kotyle: the knowledge and one operation',
    ...publicationHead(rulebook),
    date: about.date,
    description: `${about.label}. ${about.deferral}`,
    kind: 'instance',
    software: { name: 'Kotyle', version: engine },
    implementation: {
      description: `${about.label}, engine ${engine}, ${mode}`,
      ...(publicUrl !== undefined && { url: `${publicUrl}/fhir` }),
    },
    fhirVersion: '4.0.1',
    format: ['application/fhir+json', 'json'],
    rest: [
      {
        mode: 'server',
        documentation:
          'Read-only. Unknown search parameters are left out of account and told in the answer, or refused with Prefer: handling=strict.',
        security: {
          description:
            mode === 'production'
              ? 'Each call carries a JSON Web Token of the client, as CDS Hooks describes.'
              : 'Development: callers are not authenticated.',
        },
        resource: PUBLISHED_TYPES.map(resourceOf),
        operation: [{ name: 'evaluate', definition: pinned(operation.url, operation.version) }],
      },
    ],
  };
}

function resourceOf(type: PublishedType): CapabilityStatementRestResource {
  return {
    type,
    interaction: [{ code: 'read' }, { code: 'search-type' }],
    versioning: 'versioned',
    conditionalRead: 'not-match',
    searchParam: Object.entries(SEARCH_PARAMETERS).map(([name, compares]) => ({
      name,
      definition: searchParameterDefinition(type, name as SearchParameterName),
      type: compares,
    })),
  };
}

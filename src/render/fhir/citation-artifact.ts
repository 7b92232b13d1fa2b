import type { RelatedArtifact } from 'fhir/r4.js';
import type { Rulebook } from '../../rulebook/types.js';
import { fullReference } from '../evidence/reference.js';

/** R4 has no Citation resource: a source is a related artifact, with the place it can be read where one is known. */
export function citationArtifact(key: string, supports: string, rulebook: Rulebook): RelatedArtifact {
  const { doi = null, pmid = null, short = key, readAt } = rulebook.citations.get(key) ?? {};
  const url = doi !== null ? `https://doi.org/${doi}` : pmid !== null ? pubmed(pmid) : undefined;
  const read = readAt === undefined ? '' : ` (read: ${readAt})`;
  return {
    type: 'citation',
    label: short,
    display: supports,
    citation: `${fullReference(key, rulebook)}${read}`,
    ...(url !== undefined && { url }),
  };
}

function pubmed(pmid: string): string {
  return `https://pubmed.ncbi.nlm.nih.gov/${pmid}/`;
}

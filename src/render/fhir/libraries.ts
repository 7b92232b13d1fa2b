import type { Library, RelatedArtifact } from 'fhir/r4.js';
import type { Rule, Rulebook } from '../../rulebook/types.js';
import { jsonAttachment } from './attachment.js';
import { HASH_SYSTEM, canonicalOf, pinned } from './canonical.js';
import { programName, publicationHead, useContext } from './published.js';
import type { Published } from './published.js';

/** A rule as it is written in the rulebook. */
const RULE_TYPE = 'application/vnd.kotyle.rule+json';

const LIBRARY_TYPE = 'http://terminology.hl7.org/CodeSystem/library-type';

/** The canonical of the rulebook as a whole. */
export function rulebookCanonical({ about }: Rulebook): string {
  return pinned(canonicalOf('Library', about.id), about.version);
}

/** A rule's own file: what the engine runs, beside the PlanDefinition that a person or a catalogue reads. */
export function ruleLibrary(rule: Rule, rulebook: Rulebook): Library & Published {
  const { id, version, title, released, revised = [] } = rule;
  const file = rulebook.pack.files.find(
    ({ path }) => path.startsWith('advisories/') && path.endsWith(`/${id}.json`),
  );
  return {
    resourceType: 'Library',
    id,
    url: canonicalOf('Library', id),
    version,
    name: `${programName(id)}Logic`,
    title: `${title}: the rule as the engine reads it`,
    type: { coding: [{ system: LIBRARY_TYPE, code: 'logic-library' }] },
    ...publicationHead(rulebook),
    date: revised.at(-1) ?? released ?? rulebook.about.date,
    description:
      'The file of one rule, in the form of this project. Parameters, named conditions and computations it names are those of the rulebook; no other engine computes it.',
    ...(file && { content: [jsonAttachment(RULE_TYPE, file.path, file.content)] }),
  };
}

/** The rulebook as a collection: every part of it, and nothing of another version. */
export function manifestLibrary(rulebook: Rulebook, parts: readonly Published[]): Library & Published {
  const { about, hash } = rulebook;
  const pinnedParts = parts.map((part): RelatedArtifact => ({
    type: 'composed-of',
    display: part.title,
    resource: pinned(part.url, part.version),
  }));
  return {
    resourceType: 'Library',
    id: about.id,
    url: canonicalOf('Library', about.id),
    identifier: [{ system: HASH_SYSTEM, value: hash }],
    version: about.version,
    name: 'KotyleRulebook',
    title: about.title,
    type: { coding: [{ system: LIBRARY_TYPE, code: 'asset-collection' }] },
    ...publicationHead(rulebook),
    date: about.date,
    description: `${about.label}. ${about.deferral}`,
    purpose: (about.limits ?? []).join(' '),
    usage: about.changes.map(({ version, date, says }) => `${version} (${date}): ${says}`).join('\n\n'),
    useContext: useContext(rulebook),
    author: [{ name: about.developer }],
    relatedArtifact: [...pinnedParts, ...systemsUsed(parts)],
  };
}

/** Code systems of others that the value sets draw from; their versions are told there, where one is stated. */
function systemsUsed(parts: readonly Published[]): readonly RelatedArtifact[] {
  const own = new Set(parts.map(({ url }) => url));
  const systems = parts.flatMap((part) =>
    part.resourceType === 'ValueSet'
      ? (part.compose?.include ?? []).flatMap(({ system, version }) =>
          system === undefined || own.has(system)
            ? []
            : [version === undefined ? system : pinned(system, version)],
        )
      : [],
  );
  return [...new Set(systems)].sort().map((resource) => ({ type: 'depends-on', resource }));
}

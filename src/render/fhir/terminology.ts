import type { CodeSystem, CodeSystemConcept, ValueSet } from 'fhir/r4.js';
import { DATA_FINDING_KINDS } from '../../facts/definitions.js';
import type { Rulebook } from '../../rulebook/types.js';
import { RULE_SYSTEM } from '../card-types.js';
import { canonicalOf, pinned } from './canonical.js';
import { programName, publicationHead } from './published.js';
import type { Published } from './published.js';

/** What may be wrong with a record: codes of ours for what no standard code names. */
export const FINDING_SYSTEM = canonicalOf('CodeSystem', 'data-finding');

type Listed = (CodeSystem | ValueSet) & Published;

/** Value sets and code systems as they stand in the rulebook, then those whose codes the rulebook's other files are. */
export function terminology(rulebook: Rulebook): readonly Listed[] {
  return [...written(rulebook), ruleCodes(rulebook), findingCodes(rulebook)];
}

/** The files are FHIR already: they are published as they were reviewed, each naming the version of what it refers to. */
function written(rulebook: Rulebook): readonly Listed[] {
  const versions = valueSetVersions(rulebook);
  return rulebook.pack.files
    .map(({ content }) => content)
    .filter(isListed)
    .map((one) =>
      one.resourceType === 'ValueSet' && one.compose?.exclude ? withPinnedSets(one, versions) : one,
    );
}

function withPinnedSets(
  set: ValueSet & Published,
  versions: ReadonlyMap<string, string>,
): ValueSet & Published {
  const pin = (url: string): string => {
    const version = versions.get(url.slice(url.lastIndexOf('/') + 1));
    return version === undefined ? url : pinned(url, version);
  };
  const exclude = (set.compose?.exclude ?? []).map(({ valueSet, ...rest }) => ({
    ...rest,
    ...(valueSet && { valueSet: valueSet.map(pin) }),
  }));
  return { ...set, compose: { include: set.compose?.include ?? [], exclude } };
}

function isListed(content: unknown): content is Listed {
  if (typeof content !== 'object' || content === null || !('resourceType' in content)) return false;
  return content.resourceType === 'ValueSet' || content.resourceType === 'CodeSystem';
}

/** The version of a value set that a rule reads, by its id. */
export function valueSetVersions({ pack }: Rulebook): ReadonlyMap<string, string> {
  const listed = pack.files.map(({ content }) => content).filter(isListed);
  return new Map(
    listed.flatMap(({ resourceType, id, version }) => (resourceType === 'ValueSet' ? [[id, version]] : [])),
  );
}

function ruleCodes(rulebook: Rulebook): Listed {
  const { dataGap, moreAdvisories } = rulebook.about;
  return codeSystem(rulebook, {
    id: 'rule',
    url: RULE_SYSTEM,
    title: 'What a card is about',
    description:
      'The topic of each card: the rule it comes from, or one of two kinds of card that come from none.',
    concept: [
      ...rulebook.rules.map(({ id, title, messages }) => ({
        code: id,
        display: title,
        definition: messages.fires,
      })),
      { code: 'data-gap', display: dataGap.summary },
      { code: 'more-advisories', display: moreAdvisories.summary },
    ],
  });
}

function findingCodes(rulebook: Rulebook): Listed {
  return codeSystem(rulebook, {
    id: 'data-finding',
    url: FINDING_SYSTEM,
    title: 'What is wrong with a record',
    description:
      'Kinds of contradiction and unusable value that are met while a record is read; the code of a DetectedIssue.',
    concept: DATA_FINDING_KINDS.map((code) => ({ code, display: code.replaceAll('-', ' ') })),
  });
}

interface Own {
  readonly id: string;
  readonly url: string;
  readonly title: string;
  readonly description: string;
  readonly concept: CodeSystemConcept[];
}

function codeSystem(rulebook: Rulebook, { id, url, title, description, concept }: Own): Listed {
  return {
    resourceType: 'CodeSystem',
    id,
    url,
    version: rulebook.about.version,
    name: programName(id),
    title,
    ...publicationHead(rulebook),
    date: rulebook.about.date,
    description,
    caseSensitive: true,
    content: 'complete',
    count: concept.length,
    concept,
  };
}

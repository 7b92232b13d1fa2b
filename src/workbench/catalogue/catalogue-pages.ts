import type { Rulebook } from '../../rulebook/types.js';
import { readShipped } from '../checked-file.js';
import { evidenceMarkdown } from '../../render/evidence/evidence-markdown.js';
import { evidencePage } from '../../render/evidence/evidence-page.js';
import type { RuleSources } from '../rule-sources.js';
import { SHIPPED } from '../shipped-fixtures.js';
import { readCases } from '../trial/read-cases.js';
import { alikeSchema } from './alike.js';
import type { Burden } from './burden-schema.js';
import { catalogueOf } from './catalogue.js';
import { catalogueMarkdown } from './catalogue-markdown.js';
import { openQuestionsSchema } from './open-questions.js';

export interface PagesInput {
  readonly rulebook: Rulebook;
  readonly sources: RuleSources;
  readonly burden: Burden;
  readonly engine: string;
}

/** The folder of the evidence pages, below that of the rules. */
export const EVIDENCE_FOLDER = 'evidence';

/** The catalogue and an evidence page for each rule, by path below the folder of the rules. */
export function cataloguePages({
  rulebook,
  sources,
  burden,
  engine,
}: PagesInput): ReadonlyMap<string, string> {
  const cases = readCases({ patients: SHIPPED.patients, edges: SHIPPED.edges }, rulebook);
  if (!cases.ok) throw new Error(cases.faults.join('\n'));
  const catalogue = catalogueOf({
    rulebook,
    subjects: subjectsOf(sources),
    cases: cases.value,
    burden,
    reviewed: readShipped(SHIPPED.alike, alikeSchema).pairs,
    questions: readShipped(SHIPPED.openQuestions, openQuestionsSchema),
  });
  return new Map([
    ['README.md', catalogueMarkdown(catalogue)],
    ...rulebook.rules.map(
      (rule) =>
        [`${EVIDENCE_FOLDER}/${rule.id}.md`, evidenceMarkdown(evidencePage(rule, rulebook, engine))] as const,
    ),
  ]);
}

/** The subject of a rule is the folder its file stands in: `advisories/<subject>/<id>.json`. */
function subjectsOf({ rules }: RuleSources): ReadonlyMap<string, string> {
  return new Map(rules.map(({ file, value }) => [value.id, file.split('/')[1] ?? 'other']));
}

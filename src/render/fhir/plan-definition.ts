import type {
  Expression,
  PlanDefinition,
  PlanDefinitionAction,
  PlanDefinitionActionCondition,
  RelatedArtifact,
} from 'fhir/r4.js';
import type { Condition, Rule, Rulebook } from '../../rulebook/types.js';
import { conditionWords } from '../evidence/condition-words.js';
import { evidencePage } from '../evidence/evidence-page.js';
import type { EvidencePage } from '../evidence/evidence-page.js';
import { canonicalOf, pinned } from './canonical.js';
import { citationArtifact } from './citation-artifact.js';
import { programName, publicationHead, some, useContext } from './published.js';
import type { Published } from './published.js';
import { ruleInputs } from './rule-inputs.js';

/** Conditions in our own language, with every limit put in. No engine but ours computes it, and each says so. */
const CONDITION_LANGUAGE = 'application/vnd.kotyle.condition+json';

/** A rule as it can be read, shared and cited: triggers, conditions, data, sources; computed only by this engine. */
export function rulePlanDefinition(
  rule: Rule,
  rulebook: Rulebook,
  engine: string,
): PlanDefinition & Published {
  const page = evidencePage(rule, rulebook, engine);
  const { id, version, title, released, revised = [], review } = rule;
  return {
    resourceType: 'PlanDefinition',
    id,
    url: canonicalOf('PlanDefinition', id),
    version,
    name: programName(id),
    title,
    type: {
      coding: [{ system: 'http://terminology.hl7.org/CodeSystem/plan-definition-type', code: 'eca-rule' }],
    },
    ...publicationHead(rulebook),
    date: revised.at(-1) ?? released ?? rulebook.about.date,
    description: rule.messages.fires,
    purpose: rulebook.about.title,
    usage: usageOf(page),
    ...(review?.state === 'reviewed' && { lastReviewDate: review.on }),
    ...(released !== undefined && { effectivePeriod: { start: released } }),
    useContext: useContext(rulebook),
    author: [{ name: rulebook.about.developer }],
    ...(review?.state === 'reviewed' && { reviewer: review.by.map((name) => ({ name })) }),
    ...some('relatedArtifact', [
      ...page.sources.map(({ key, supports }) => citationArtifact(key, supports.join('; '), rulebook)),
      ...withoutSource(rule),
    ]),
    library: [pinned(canonicalOf('Library', id), version)],
    action: [ruleAction(rule, page, rulebook)],
  };
}

/** How far it can be trusted, who was not studied, and until when it ought to be read again. */
function usageOf({ strength, limits, footer }: EvidencePage): string {
  const grades = strength.grades.map(({ of, grade }) => `${of}: ${grade}`);
  return [
    `Certainty: ${[...grades, strength.why].join('; ')}`,
    ...(limits.rule.length === 0 ? [] : [`Limits: ${limits.rule.join(' ')}`]),
    `To be reviewed by ${footer.reviewBy}; ${footer.review}`,
    footer.deferral,
  ].join('\n\n');
}

function ruleAction(rule: Rule, page: EvidencePage, rulebook: Rulebook): PlanDefinitionAction {
  return {
    title: rule.title,
    description: rule.messages.fires,
    // Advice on a plan is never as urgent as `stat`, whatever it is about.
    priority: rule.indicator === 'info' ? 'routine' : 'urgent',
    ...some('documentation', [
      ...(rule.citations ?? []).map(({ key, where, supports }) =>
        citationArtifact(key, `${supports} (${where})`, rulebook),
      ),
      ...withoutSource(rule),
    ]),
    trigger: rule.entries.map((name) => ({ type: 'named-event', name })),
    condition: [
      conditionOf('It applies when', rule.appliesWhen, rulebook),
      conditionOf('It fires when', rule.when, rulebook),
    ],
    ...some('input', ruleInputs(rule, rulebook)),
    action: page.options.map(({ where, options, checks, before }) => ({
      title: where,
      selectionBehavior: 'any',
      action: [...options, ...checks, ...before].map((description) => ({ description })),
    })),
  };
}

/** A rule that has no source says so where others cite theirs. */
function withoutSource({ basis }: Rule): readonly RelatedArtifact[] {
  return basis === undefined ? [] : [{ type: 'justification', display: basis }];
}

function conditionOf(what: string, condition: Condition, rulebook: Rulebook): PlanDefinitionActionCondition {
  const expression: Expression = {
    description: `${what}: ${conditionWords(condition, rulebook)}. In a language of this project, which other engines cannot compute; a value that is not recorded is unknown, and unknown stays so through all, any and not.`,
    language: CONDITION_LANGUAGE,
    expression: JSON.stringify(condition),
  };
  return { kind: 'applicability', expression };
}

import type { Questionnaire } from 'fhir/r4.js';
import { hipPlanQuestionnaire } from '../../rulebook/hip-plan-questionnaire.js';
import type { Site } from '../../rulebook/site.js';
import type { Rulebook } from '../../rulebook/types.js';
import { capabilityStatement } from './capability-statement.js';
import type { ServedBy } from './capability-statement.js';
import { siteConceptMaps } from './concept-maps.js';
import { evaluateOperation } from './evaluate-operation.js';
import { manifestLibrary, ruleLibrary } from './libraries.js';
import { rulePlanDefinition } from './plan-definition.js';
import { publicationHead } from './published.js';
import type { Published } from './published.js';
import { terminology } from './terminology.js';

/** The knowledge of one installation as FHIR R4: the rulebook with all it consists of, and the site's maps beside it. */
export function knowledgeResources(rulebook: Rulebook, served: ServedBy, site?: Site): readonly Published[] {
  const operation = evaluateOperation(rulebook);
  const parts: readonly Published[] = [
    ...rulebook.rules.map((rule) => rulePlanDefinition(rule, rulebook, served.engine)),
    ...rulebook.rules.map((rule) => ruleLibrary(rule, rulebook)),
    ...terminology(rulebook),
    hipPlan(rulebook),
    operation,
  ];
  return [
    manifestLibrary(rulebook, parts),
    ...parts,
    ...(site ? siteConceptMaps(site, rulebook) : []),
    capabilityStatement(rulebook, operation, served),
  ];
}

function hipPlan(rulebook: Rulebook): Published {
  const questionnaire = hipPlanQuestionnaire(rulebook) as unknown as Questionnaire & Published;
  const { item, ...head } = questionnaire;
  return {
    ...head,
    purpose: rulebook.about.title,
    copyright: publicationHead(rulebook).copyright,
    ...(item && { item }),
  };
}

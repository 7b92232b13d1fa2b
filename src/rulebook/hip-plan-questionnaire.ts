import { HIP_PLAN_QUESTIONNAIRE } from '../facts/hip-plan-answers.js';
import type { MeasureDefinition } from '../facts/definitions.js';
import { ANGLE_QUALIFIERS } from '../facts/restated-observation.js';
import type { Concept, Rulebook } from './types.js';

type Item = Readonly<Record<string, unknown>>;

const UCUM = 'http://unitsofmeasure.org';
/** R4 extension: the unit in which a quantity is asked for. */
const UNIT_EXTENSION = 'http://hl7.org/fhir/StructureDefinition/questionnaire-unit';

/**
 * The plan questionnaire as FHIR R4, made from the measures: one repeating group for each hip, asking its side, how
 * its cup angles are meant, and every measure that can be planned. A link id is the measure's code, so that an answer
 * needs no map. The words say sign and meaning, because a number alone is ambiguous.
 */
export function hipPlanQuestionnaire(rulebook: Rulebook): Readonly<Record<string, unknown>> {
  const { about } = rulebook;
  return {
    resourceType: 'Questionnaire',
    id: 'hip-plan',
    url: HIP_PLAN_QUESTIONNAIRE,
    version: about.version,
    name: 'HipPlan',
    title: about.hipPlan.title,
    status: about.status,
    experimental: about.experimental,
    date: about.date,
    publisher: 'Kotyle',
    description: about.hipPlan.description,
    subjectType: ['Patient'],
    item: [
      {
        linkId: 'hip',
        text: about.hipPlan.hip,
        type: 'group',
        required: true,
        repeats: true,
        item: [
          choice('hip.side', about.hipPlan.side, ['left', 'right'], rulebook, { required: true }),
          ...qualifierItems(rulebook),
          ...plannedMeasures(rulebook).map((measure) => measureItem(measure, rulebook)),
        ],
      },
    ],
  };
}

function plannedMeasures({ facts }: Rulebook): readonly MeasureDefinition[] {
  return facts.filter(
    (fact): fact is MeasureDefinition =>
      fact.kind === 'measure' && fact.scope === 'hip' && fact.stages.includes('planned'),
  );
}

function qualifierItems(rulebook: Rulebook): readonly Item[] {
  return ANGLE_QUALIFIERS.map((name) => {
    const allowed = rulebook.knowledge.qualifiers.get(name);
    const codes = Array.isArray(allowed) ? (allowed as readonly string[]) : [];
    return choice(`hip.${name}`, wordsOf(name, rulebook), codes, rulebook, {
      code: [measureCode(name, rulebook)],
    });
  });
}

function measureItem(measure: MeasureDefinition, rulebook: Rulebook): Item {
  const text = wordsOf(measure.id, rulebook);
  const more = { code: [measureCode(measure.id, rulebook)], ...(measure.repeats && { repeats: true }) };
  switch (measure.valueType) {
    case 'code':
      return choice(measure.id, text, measure.values ?? [], rulebook, more);
    case 'boolean':
      return { linkId: measure.id, text, type: 'boolean', ...more };
    case 'integer':
      return { linkId: measure.id, text, type: 'integer', ...more };
    case 'quantity':
      return { ...unitOf(measure), linkId: measure.id, text, type: 'quantity', ...more };
  }
}

function unitOf({ unit }: MeasureDefinition): Item {
  if (unit === undefined) return {};
  return { extension: [{ url: UNIT_EXTENSION, valueCoding: { system: UCUM, code: unit } }] };
}

function choice(
  linkId: string,
  text: string,
  codes: readonly string[],
  rulebook: Rulebook,
  more: Item,
): Item {
  const system = rulebook.about.systems.measureValue;
  const answerOption = codes.map((code) => {
    const display = conceptOf(system, code, rulebook)?.display ?? code;
    return { valueCoding: { system, code, display } };
  });
  return { linkId, text, type: 'choice', ...more, answerOption };
}

function measureCode(code: string, rulebook: Rulebook): Item {
  const system = rulebook.about.systems.measure;
  return { system, code, display: conceptOf(system, code, rulebook)?.display ?? code };
}

/** What is asked: the measure's name and, where there is one, its meaning with sign and unit. */
function wordsOf(code: string, rulebook: Rulebook): string {
  const concept = conceptOf(rulebook.about.systems.measure, code, rulebook);
  const name = concept?.display ?? code;
  return concept?.definition === undefined ? name : `${name}. ${concept.definition}`;
}

function conceptOf(system: string, code: string, { codeSystems }: Rulebook): Concept | undefined {
  return codeSystems.get(system)?.get(code);
}

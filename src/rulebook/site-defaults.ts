import { exactly } from '../base/interval.js';
import type { MeasureDefinition } from '../facts/definitions.js';
import type { Fact, FactValue } from '../facts/fact.js';
import { NO_PROVENANCE } from '../facts/fact.js';
import { isMeasure } from '../facts/map-kinds.js';
import type { SiteDefault } from '../facts/site-defaults.js';
import type { Report } from './check-rules.js';
import type { Parsed } from './parse.js';
import type { SiteFile } from './site-schema.js';
import type { Rulebook } from './types.js';

type Given = number | boolean | string;

/** The planned facts a site's defaults stand for: measures that are planned, with a value each of them allows. */
export function readDefaults(
  { file, value }: Parsed<SiteFile>,
  rulebook: Rulebook,
  report: Report,
): readonly SiteDefault[] {
  const planned = rulebook.facts.filter(isMeasure).filter(({ stages }) => stages.includes('planned'));
  return Object.entries(value.defaults ?? {}).flatMap(([id, given]): readonly SiteDefault[] => {
    const definition = planned.find((measure) => measure.id === id);
    if (!definition) {
      report(file, `defaults.${id}`, 'a measure that is planned', id);
      return [];
    }
    const read = valueOf(definition, given);
    if (typeof read !== 'string')
      return [{ fact: defaultFact(definition, read, given, rulebook), partOf: definition.partOf ?? [] }];
    report(file, `defaults.${id}`, read, String(given));
    return [];
  });
}

/** The value, or what was expected instead. */
function valueOf(
  { valueType, values = [], unit, plausible }: MeasureDefinition,
  given: Given,
): FactValue | string {
  switch (valueType) {
    case 'code':
      return typeof given === 'string' && values.includes(given)
        ? { kind: 'code', codes: [given] }
        : `one of ${values.join(', ')}`;
    case 'boolean':
      return typeof given === 'boolean' ? { kind: 'flag', flag: given } : 'true or false';
    case 'quantity':
    case 'integer': {
      const isNumber = typeof given === 'number' && (valueType === 'quantity' || Number.isInteger(given));
      const isPossible = isNumber && (!plausible || (given >= plausible.low && given <= plausible.high));
      if (isPossible) return { kind: 'quantity', interval: exactly(given) };
      const range = plausible ? ` from ${plausible.low} to ${plausible.high}` : '';
      return `a ${valueType === 'integer' ? 'whole ' : ''}number${range} in ${unit ?? '1'}`;
    }
  }
}

function defaultFact(
  definition: MeasureDefinition,
  value: FactValue,
  given: Given,
  { about }: Rulebook,
): Fact {
  const { id, title, unit } = definition;
  const shown = unit === undefined || unit === '1' ? String(given) : `${given} ${unit}`;
  const said = about.site.remarks.default.replaceAll('{measure}', title).replaceAll('{value}', shown);
  return {
    id,
    state: { status: 'present', value },
    ...(unit !== undefined && { unit }),
    stage: 'planned',
    error: 0,
    provenance: NO_PROVENANCE,
    remarks: [],
    assumptions: [said],
  };
}

import type { Parsed } from '../../rulebook/parse.js';
import type { FactFile, ParsedPack } from '../../rulebook/parse-pack.js';
import type { Parameter, RuleFile } from '../../rulebook/types.js';
import { faultsOf } from './finding.js';
import type { Fault } from './finding.js';

/** What is known of units, from a units library. */
export interface UnitKnowledge {
  /** Whether a text is a unit of UCUM. */
  readonly isUnit: (text: string) => boolean;
  /** Whether two units measure the same thing, so that one can be turned into the other. */
  readonly isSameDimension: (a: string, b: string) => boolean;
}

/** Whether every unit is one, and what goes with a fact is in its unit, where the rulebook's own check does not look. */
export function checkUnits(parsed: ParsedPack, units: UnitKnowledge): readonly Fault[] {
  return faultsOf('units', (report) => {
    const parameters = new Map(parsed.parameters.map(({ value }) => [value.id, value]));
    for (const { file, path, unit } of unitsWritten(parsed))
      if (!units.isUnit(unit)) report(file, path, 'a unit of UCUM', unit);
    const compare = (at: Place, unit: string, id: string): void => {
      const parameter = parameters.get(id);
      if (parameter && parameter.unit !== unit)
        report(at.file, at.path, `a parameter in ${unit}`, unlike(parameter, unit, units));
    };
    for (const fact of parsed.facts) checkFactUnits(fact, compare);
    for (const { file, value } of parsed.computations)
      if (value.motionSet) compare({ file, path: 'motionSet' }, 'deg', value.motionSet.parameter);
    for (const rule of parsed.rules) checkComputeUnits(rule, parsed, compare);
  });
}

interface Place {
  readonly file: string;
  readonly path: string;
}

type Compare = (at: Place, unit: string, parameter: string) => void;

function unlike({ id, unit }: Parameter, wanted: string, units: UnitKnowledge): string {
  const isSame = units.isUnit(unit) && units.isSameDimension(unit, wanted);
  return `${id} in ${unit}${isSame ? '' : ', which measures something else'}`;
}

function unitsWritten(parsed: ParsedPack): readonly (Place & { readonly unit: string })[] {
  return [
    ...parsed.facts.flatMap(({ file, value }) =>
      'unit' in value && value.unit !== undefined ? [{ file, path: 'unit', unit: value.unit }] : [],
    ),
    ...parsed.computations.map(({ file, value }) => ({ file, path: 'unit', unit: value.unit })),
    ...parsed.parameters.map(({ file, value }) => ({
      file,
      path: `parameters.${value.id}.unit`,
      unit: value.unit,
    })),
  ];
}

function checkFactUnits({ file, value }: Parsed<FactFile>, compare: Compare): void {
  if (value.kind !== 'measure' && value.kind !== 'observation') return;
  const { unit } = value;
  if (unit === undefined) return;
  if (value.plausible) compare({ file, path: 'plausible' }, unit, value.plausible.parameter);
  if (value.kind !== 'measure') return;
  if (value.conflict) compare({ file, path: 'conflict' }, unit, value.conflict.parameter);
  const { byMethod = {}, otherwise } = value.measuringError ?? {};
  if (otherwise) compare({ file, path: 'measuringError.otherwise' }, unit, otherwise.parameter);
  for (const [method, { parameter }] of Object.entries(byMethod))
    compare({ file, path: `measuringError.byMethod.${method}` }, unit, parameter);
}

/** Motions are angles; the range in which a number is looked for is in the unit of what is varied. */
function checkComputeUnits({ file, value }: Parsed<RuleFile>, parsed: ParsedPack, compare: Compare): void {
  for (const [name, compute] of Object.entries(value.compute ?? {})) {
    const path = `compute.${name}`;
    if ('computation' in compute && compute.motionSet)
      compare({ file, path: `${path}.motionSet` }, 'deg', compute.motionSet.parameter);
    if (!('matching' in compute)) continue;
    const varied = parsed.facts.find((fact) => fact.value.id === compute.matching.vary)?.value;
    if (varied && 'unit' in varied && varied.unit !== undefined)
      compare({ file, path: `${path}.matching.within` }, varied.unit, compute.matching.within.parameter);
  }
}

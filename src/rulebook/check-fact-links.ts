import { baseId } from './code-lists.js';
import type { Report } from './check-rules.js';
import type { FactFile, ParsedPack } from './parse-pack.js';

/** Facts that are read off other facts name some that exist, of the kind they can be read off. */
export function checkFactLinks(file: string, fact: FactFile, parsed: ParsedPack, report: Report): void {
  const named = (id: string): FactFile | undefined =>
    parsed.facts.find(({ value }) => value.id === id)?.value;
  switch (fact.kind) {
    case 'unclear': {
      const diagnosis = named(fact.of);
      if (diagnosis?.kind !== 'condition' || diagnosis.scope !== fact.scope)
        report(file, 'of', `a condition of a ${fact.scope}`, fact.of);
      else if (diagnosis.unclearValueSet === undefined && diagnosis.sitedValueSet === undefined)
        report(file, 'of', 'a condition that codes can leave unclear', fact.of);
      return;
    }
    case 'aged':
      for (const id of fact.of)
        if (named(id)?.kind !== 'measure') report(file, 'of', 'a measure that is defined', id);
      for (const change of fact.changedBy)
        if ('condition' in change && named(change.condition)?.kind !== 'condition')
          report(file, 'changedBy', 'a condition that is defined', change.condition);
      checkMonths(file, 'olderThan', fact.olderThan.parameter, parsed, report);
      return;
    case 'after-replacement':
      for (const id of fact.of) {
        const diagnosis = named(id);
        // What a person has is new since the replacement or not; a code of a native joint is wrong on any later day.
        if (diagnosis?.kind !== 'condition' || (diagnosis.scope !== 'hip' && fact.newOnly !== true))
          report(
            file,
            'of',
            fact.newOnly === true ? 'a condition that is defined' : 'a condition of a hip',
            id,
          );
      }
      return;
    case 'first-dislocation':
      for (const id of fact.of)
        if (named(id)?.kind !== 'condition') report(file, 'of', 'a condition that is defined', id);
      return;
    case 'observation':
      if (fact.staleAfter) checkMonths(file, 'staleAfter', fact.staleAfter.parameter, parsed, report);
      return;
    case 'replacement-kind':
      for (const id of fact.cupImplants)
        if (!parsed.valueSets.some(({ value }) => baseId(value.id) === id))
          report(file, 'cupImplants', 'a file in value-sets/', id);
      return;
    case 'version-sign':
      if (named(fact.of)?.kind !== 'measure') report(file, 'of', 'a measure that is defined', fact.of);
      return;
    default:
  }
}

function checkMonths(file: string, path: string, id: string, parsed: ParsedPack, report: Report): void {
  const parameter = parsed.parameters.find(({ value }) => value.id === id)?.value;
  if (typeof parameter?.value !== 'number' || parameter.unit !== 'mo' || parameter.use === 'quoted')
    report(file, path, 'a parameter that is one number of months', id);
}

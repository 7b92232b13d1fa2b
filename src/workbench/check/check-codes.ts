import type { Parsed } from '../../rulebook/parse.js';
import type { FactFile, ParsedPack } from '../../rulebook/parse-pack.js';
import { CODE_FORMS } from './code-forms.js';
import { faultsOf } from './finding.js';
import type { Fault, ReportFault } from './finding.js';
import type { ListedCode } from './listed-codes.js';
import { bySet, excludedCodes, includedCodes, isCoveredBy } from './listed-codes.js';

/** Whether value sets list well-formed codes of known systems, each once, and none that also means the opposite. */
export function checkCodes(parsed: ParsedPack): readonly Fault[] {
  return faultsOf('codes', (report) => {
    checkForms(parsed, report);
    checkWholeSystems(parsed, report);
    checkRepeats(parsed, report);
    checkTwinSets(parsed, report);
    const codes = {
      included: bySet(parsed.valueSets.flatMap(includedCodes)),
      excluded: bySet(parsed.valueSets.flatMap(excludedCodes)),
    };
    for (const fact of parsed.facts) checkUnclear(fact, codes, report);
  });
}

function checkForms(parsed: ParsedPack, report: ReportFault): void {
  const canonical = new Map(
    Object.entries(parsed.aliases?.value ?? {}).flatMap(([system, others]) =>
      others.map((other) => [other, system] as const),
    ),
  );
  for (const file of parsed.valueSets)
    for (const listed of [...includedCodes(file), ...excludedCodes(file)]) {
      const form = CODE_FORMS.get(listed.system);
      const place = listed.path.replace(/\.(?:concept|filter)\[.*$/, '.system');
      if (!form)
        report(
          file.file,
          place,
          canonical.get(listed.system) ?? `one of ${[...CODE_FORMS.keys()].join(', ')}`,
          listed.system,
        );
      else if (listed.isCategory && !form.isCategory)
        report(file.file, listed.path, 'exact codes of this system', `is-a ${listed.code}`);
      else if (!(listed.isCategory ? form.isCategory : form.isCode)?.(listed.code))
        report(file.file, listed.path, form.said, listed.code);
    }
}

/** A part that names a system and no code of it stands for all of it. */
function checkWholeSystems({ valueSets }: ParsedPack, report: ReportFault): void {
  for (const { file, value } of valueSets)
    for (const list of ['include', 'exclude'] as const)
      for (const [index, part] of (value.compose?.[list] ?? []).entries()) {
        const named = (part.concept?.length ?? 0) + (part.filter?.length ?? 0) + urlsOf(part).length;
        if (named === 0)
          report(file, `compose.${list}[${index}]`, 'codes of the system', 'the system as a whole');
        // Filters inside one include must all hold, which is never what two of them are written for.
        if ((part.filter?.length ?? 0) > 1)
          report(
            file,
            `compose.${list}[${index}].filter`,
            'one filter in each part',
            String(part.filter?.length),
          );
      }
}

/** A code stands once in a set, its overlay included, and not beside a category it is in. */
function checkRepeats({ valueSets }: ParsedPack, report: ReportFault): void {
  for (const [set, codes] of bySet(valueSets.flatMap(includedCodes)))
    for (const [index, listed] of codes.entries()) {
      const before = codes.slice(0, index);
      const first = before.find((other) => isCoveredBy(listed, other) || isCoveredBy(other, listed));
      if (first?.plain === listed.plain)
        report(listed.file, listed.path, `each code once in ${set}`, `${listed.code} a second time`);
      else if (first)
        report(listed.file, listed.path, `no code that is in ${first.code} of the same set`, listed.code);
    }
}

type Part = NonNullable<NonNullable<ParsedPack['valueSets'][number]['value']['compose']>['exclude']>[number];

function urlsOf(part: Pick<Part, 'valueSet'> | object): readonly string[] {
  return 'valueSet' in part && Array.isArray(part.valueSet) ? part.valueSet : [];
}

/** A set taken away by another is its negative twin: what both list would be taken away without a word. */
function checkTwinSets({ valueSets }: ParsedPack, report: ReportFault): void {
  const byUrl = new Map(valueSets.map((file) => [file.value.url, file]));
  for (const file of valueSets) {
    const included = includedCodes(file);
    const taken = (list: readonly ListedCode[], twin: string): void => {
      for (const listed of included)
        if (list.some((other) => isCoveredBy(listed, other)))
          report(file.file, listed.path, `no code of ${twin}, which this set takes away`, listed.code);
    };
    taken(excludedCodes(file), 'its own exclude');
    for (const [index, part] of (file.value.compose?.exclude ?? []).entries())
      for (const [item, url] of urlsOf(part).entries()) {
        const twin = byUrl.get(url);
        if (twin) taken(includedCodes(twin), twin.value.id);
        else report(file.file, `compose.exclude[${index}].valueSet[${item}]`, 'a value set that exists', url);
      }
  }
}

const MEANING = ['valueSet', 'procedureValueSet'] as const;
const VAGUE = ['unclearValueSet', 'sitedValueSet'] as const;

interface CodeIndex {
  readonly included: ReadonlyMap<string, readonly ListedCode[]>;
  readonly excluded: ReadonlyMap<string, readonly ListedCode[]>;
}

/** What is too vague to mean a fact, or means it only with a place, can't be listed as meaning it as well. */
function checkUnclear({ value }: Parsed<FactFile>, codes: CodeIndex, report: ReportFault): void {
  if (value.kind !== 'condition') return;
  for (const vague of VAGUE)
    for (const meaning of MEANING) {
      const meant = codes.included.get(value[meaning] ?? '') ?? [];
      const takenAway = codes.excluded.get(value[meaning] ?? '') ?? [];
      for (const listed of codes.included.get(value[vague] ?? '') ?? []) {
        if (takenAway.some((other) => isCoveredBy(listed, other))) continue;
        const twin = meant.find((other) => isCoveredBy(listed, other) || isCoveredBy(other, listed));
        if (twin)
          report(
            twin.file,
            twin.path,
            `no code of ${listed.set}, whose codes alone do not mean ${value.id}`,
            twin.code,
          );
      }
    }
}

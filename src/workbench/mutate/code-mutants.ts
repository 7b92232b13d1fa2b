import { foldIcdCode, isIcdSystem } from '../../fhir/codings.js';
import { baseId, codeListsOf } from '../../rulebook/code-lists.js';
import { knowledgeOf } from '../../rulebook/resolve-facts.js';
import type { Rulebook } from '../../rulebook/types.js';
import type { RuleSources } from '../rule-sources.js';
import type { CodeMutant } from './mutant.js';
import { placeOf } from './mutant.js';

type Parsed = RuleSources['parsed'];
type ValueSet = Parsed['valueSets'][number];
type Compose = NonNullable<ValueSet['value']['compose']>;

/** Value sets thinned by one code each; sets that nothing reads are named instead. */
export interface CodeMutants {
  readonly mutants: readonly CodeMutant[];
  readonly unread: readonly string[];
}

export function codeMutants({ parsed }: RuleSources, rulebook: Rulebook): CodeMutants {
  const read = setsRead(parsed, rulebook);
  const isRead = ({ value }: ValueSet): boolean => read.has(baseId(value.id));
  return {
    mutants: parsed.valueSets.filter(isRead).flatMap((set) => thinned(set, parsed, rulebook)),
    unread: parsed.valueSets.filter((set) => !isRead(set)).map(({ value }) => value.id),
  };
}

/** The sets whose codes decide anything: named by a fact or by the rulebook, or taken out of one that is. */
function setsRead({ valueSets }: Parsed, { facts, about }: Rulebook): ReadonlySet<string> {
  const named = new Set([
    ...facts.flatMap((fact) => {
      if (fact.kind === 'observation') return [fact.valueSet];
      if (fact.kind !== 'condition') return [];
      return [fact.valueSet, fact.procedureValueSet, fact.sitedValueSet, fact.unclearValueSet].filter(
        (id) => id !== undefined,
      );
    }),
    ...Object.keys(about.operations),
    ...Object.keys(about.appointmentOperations),
    ...Object.keys(about.historyOperations),
    ...about.implantedBy,
  ]);
  const excluded = valueSets
    .filter(({ value }) => named.has(baseId(value.id)))
    .flatMap(({ value }) => (value.compose?.exclude ?? []).flatMap(urlsIn));
  const byUrl = valueSets.filter(({ value }) => excluded.includes(value.url)).map(({ value }) => value.id);
  return new Set([...named, ...byUrl]);
}

function urlsIn(part: Readonly<Record<string, unknown>>): readonly string[] {
  const urls = part['valueSet'];
  return Array.isArray(urls) ? urls.filter((url) => typeof url === 'string') : [];
}

function thinned(set: ValueSet, parsed: Parsed, rulebook: Rulebook): readonly CodeMutant[] {
  const { compose } = set.value;
  if (!compose) return [];
  return (['include', 'exclude'] as const).flatMap((list) =>
    (compose[list] ?? []).flatMap((part, index) => {
      const system = part.system ?? '';
      const path = `compose.${list}[${index}]`;
      const made = (code: string, member: string, without: Compose): CodeMutant => ({
        ...placeOf('code', set.file, `${path}.${member}`, `without ${code}`),
        valueSet: set.value.id,
        system,
        code: isIcdSystem(system) ? foldIcdCode(code) : code,
        rulebook: () => withSet({ ...set, value: { ...set.value, compose: without } }, parsed, rulebook),
      });
      return [
        ...(part.concept ?? []).map(({ code }, at) =>
          made(
            code,
            `concept[${at}]`,
            withPart(compose, list, index, { ...part, concept: part.concept?.toSpliced(at, 1) }),
          ),
        ),
        ...(part.filter ?? []).map(({ value }, at) =>
          made(
            value,
            `filter[${at}]`,
            withPart(compose, list, index, { ...part, filter: part.filter?.toSpliced(at, 1) }),
          ),
        ),
      ];
    }),
  );
}

function withPart(compose: Compose, list: 'include' | 'exclude', index: number, part: unknown): Compose {
  const parts = (compose[list] ?? []).map((one, at) => (at === index ? part : one));
  return { ...compose, [list]: parts };
}

/** The rulebook with one value set in another form; facts and rules are the same. */
function withSet(set: ValueSet, parsed: Parsed, rulebook: Rulebook): Rulebook {
  const { about, icd, pcs, snomed, aliases } = parsed;
  if (!about || !icd || !pcs || !snomed || !aliases) throw new Error('expected a rulebook that was checked');
  const valueSets = parsed.valueSets.map((one) => (one.file === set.file ? set : one));
  const lists = codeListsOf(valueSets.map(({ value }) => value));
  const tables = { icd: icd.value, pcs: pcs.value, snomed: snomed.value, aliases: aliases.value };
  const { facts, parameters } = rulebook;
  return { ...rulebook, knowledge: knowledgeOf(parsed, about.value, facts, parameters, lists, tables) };
}

import { factKinds } from '../../rulebook/resolve-facts.js';
import type { ConditionScope } from '../../rulebook/resolve-condition.js';
import { namedInWords, resolveRule } from '../../rulebook/resolve-rule.js';
import type { ConditionFile } from '../../rulebook/rule-schema.js';
import type { Parameter, Rule, RuleFile, Rulebook } from '../../rulebook/types.js';
import { namesIn, rootsOf } from '../rule-sources.js';
import type { NamedConditionFile, RuleSources } from '../rule-sources.js';
import { conditionMutants } from './condition-mutants.js';
import type { RuleMutant } from './mutant.js';
import { placeOf } from './mutant.js';

/** Every small change to the advisories and named conditions of a rulebook, each made alone, in the order of the files. */
export function ruleMutants(sources: RuleSources, rulebook: Rulebook): readonly RuleMutant[] {
  const resolver = new Resolver(sources, rulebook);
  return [
    ...sources.rules.flatMap(({ file, value }) => [
      deletedRule(file, value),
      ...inConditions(file, value, resolver),
      ...withoutFindings(file, value, rulebook),
    ]),
    ...[...sources.named.values()].flatMap(({ file, value }) => inNamed(file, value, resolver)),
  ];
}

function deletedRule(file: string, { id }: RuleFile): RuleMutant {
  return { ...placeOf('rule', file, '', `${id} deleted`), changed: new Map([[id, undefined]]) };
}

function inConditions(file: string, value: RuleFile, resolver: Resolver): readonly RuleMutant[] {
  return rootsOf(value).flatMap(({ path, condition, finding }) =>
    conditionMutants(condition, path, resolver.rulebook).map((mutant) => {
      const changed = withRoot(value, path, finding, mutant.condition);
      return {
        ...placeOf(mutant.kind, file, mutant.path, mutant.change),
        changed: new Map([[value.id, resolver.rule(changed, { parameters: mutant.parameters })]]),
      };
    }),
  );
}

function withRoot(
  value: RuleFile,
  path: string,
  finding: number | undefined,
  condition: ConditionFile,
): RuleFile {
  if (finding === undefined) return { ...value, [path]: condition };
  const findings = value.findings.map((one, index) =>
    index === finding ? { ...one, where: condition } : one,
  );
  return { ...value, findings };
}

function inNamed(file: string, value: NamedConditionFile, resolver: Resolver): readonly RuleMutant[] {
  return conditionMutants(value.when, 'when', resolver.rulebook).map((mutant) => ({
    ...placeOf(mutant.kind, file, mutant.path, mutant.change),
    changed: resolver.rulesNaming({ ...value, when: mutant.condition }, mutant.parameters),
  }));
}

function withoutFindings(
  file: string,
  { id, findings }: RuleFile,
  { rules }: Rulebook,
): readonly RuleMutant[] {
  const rule = rules.find((one) => one.id === id);
  if (!rule) return [];
  return findings.map((_finding, index) => ({
    ...placeOf('finding', file, `findings[${index}]`, 'taken away'),
    changed: new Map([[id, { ...rule, findings: rule.findings.toSpliced(index, 1) }]]),
  }));
}

interface Replaced {
  readonly parameters?: ReadonlyMap<string, Parameter>;
  readonly named?: NamedConditionFile;
}

/** Resolves changed rules as the loader does. */
class Resolver {
  readonly #scope: Omit<ConditionScope, 'file' | 'issues'>;
  readonly #named: ReadonlyMap<string, NamedConditionFile>;
  /** The named conditions that each rule refers to. */
  readonly #naming: ReadonlyMap<RuleFile, ReadonlySet<string>>;

  constructor(
    private readonly sources: RuleSources,
    readonly rulebook: Rulebook,
  ) {
    this.#named = new Map([...sources.named].map(([id, { value }]) => [id, value]));
    this.#naming = new Map(
      sources.rules.map(({ value }) => {
        const inConditions = rootsOf(value).flatMap(({ condition }) => namesIn(condition));
        return [value, new Set([...namedInWords(value), ...inConditions])];
      }),
    );
    this.#scope = {
      parameters: rulebook.parameters,
      named: this.#named,
      kinds: factKinds(rulebook.facts, rulebook.computations),
      computations: rulebook.computations,
    };
  }

  rule(value: RuleFile, { parameters, named }: Replaced): Rule {
    const scope: ConditionScope = {
      ...this.#scope,
      ...(parameters && { parameters: new Map([...this.rulebook.parameters, ...parameters]) }),
      ...(named && { named: new Map([...this.#named, [named.id, named]]) }),
      file: value.id,
      issues: [],
    };
    return resolveRule(value, scope);
  }

  /** Every rule that refers to a named condition, with that condition changed. */
  rulesNaming(
    named: NamedConditionFile,
    parameters: ReadonlyMap<string, Parameter>,
  ): ReadonlyMap<string, Rule> {
    const naming = this.sources.rules.filter(({ value }) => this.#naming.get(value)?.has(named.id));
    return new Map(naming.map(({ value }) => [value.id, this.rule(value, { parameters, named })]));
  }
}

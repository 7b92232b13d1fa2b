import { conditionsOf } from '../../rulebook/condition-facts.js';
import type { Condition, Finding, Rule, Rulebook } from '../../rulebook/types.js';
import type { Edges } from './edge-values.js';
import { edgesOf, recordedFact, unknownFact } from './edge-values.js';
import { faultsOf } from './finding.js';
import type { Fault } from './finding.js';
import type { Goal, Search } from './search.js';
import { searchState } from './search.js';

/** A rule and the file it stands in. */
export interface PlacedRule {
  readonly file: string;
  readonly rule: Rule;
}

/** Whether each rule can fire and can keep silent, each of its branches can come true, and each finding can speak. */
export function checkReach(rules: readonly PlacedRule[], rulebook: Rulebook): readonly Fault[] {
  return rules.flatMap((placed) => reachOf(placed, rulebook));
}

function reachOf({ file, rule }: PlacedRule, rulebook: Rulebook): readonly Fault[] {
  const edges = edgesFor([rule], rulebook);
  const undecided = new Set<string>();
  const ask = (path: string, goals: readonly Goal[]): Search['kind'] => {
    const { kind } = searchState(goals, edges);
    if (kind === 'undecided') undecided.add(path);
    return kind;
  };
  const faults = faultsOf('reach', (report) => {
    const states = `no state at the edges of its ${edges.size} facts does that`;
    if (ask('appliesWhen', [isTrue(rule.appliesWhen)]) === 'none') {
      report(file, 'appliesWhen', 'a rule that can apply', states);
      return;
    }
    if (ask('when', fires(rule)) === 'none') {
      report(file, 'when', 'a rule that can fire', states);
      return;
    }
    if (ask('when', [isTrue(rule.appliesWhen), { condition: rule.when, wanted: 'false' }]) === 'none')
      report(file, 'when', 'a rule that can also keep silent where it applies', states);
    for (const { path, condition } of branchesOf(rule.when, 'when'))
      if (ask(path, [...fires(rule), isTrue(condition)]) === 'none')
        report(file, path, 'a branch that can come true when the rule fires', states);
    for (const [index, finding] of rule.findings.entries()) {
      const path = `findings[${index}]`;
      if (ask(path, speaks(rule, finding)) === 'none')
        report(file, path, 'a finding that can speak, after those before it', states);
    }
  });
  return [
    ...faults,
    ...[...undecided].map((path): Fault => ({
      check: 'reach',
      severity: 'note',
      file,
      path,
      expected: 'an answer whether this can come true',
      found: 'too many ways to try them all',
    })),
  ];
}

/** The edges of everything these rules ask about; any of it may also be unknown. */
export function edgesFor(rules: readonly Rule[], rulebook: Rulebook): Edges {
  const conditions = rules.flatMap(conditionsOf);
  const edges = new Map(edgesOf(conditions, rulebook));
  // What only lets a finding speak is asked for its status and no value.
  for (const { given } of rules.flatMap(({ findings }) => findings))
    for (const id of given ? [...given.recorded, given.unknown] : [])
      edges.set(id, edges.get(id) ?? [recordedFact(id)]);
  return new Map([...edges].map(([id, facts]) => [id, [...facts, unknownFact(id)]]));
}

export function isTrue(condition: Condition): Goal {
  return { condition, wanted: 'true' };
}

export function fires({ appliesWhen, when }: Rule): readonly Goal[] {
  return [isTrue(appliesWhen), isTrue(when)];
}

/** Every alternative of an `any`, however deep, by its place. */
function branchesOf(
  condition: Condition,
  path: string,
): readonly { readonly path: string; readonly condition: Condition }[] {
  switch (condition.kind) {
    case 'leaf':
    case 'not':
      return [];
    case 'all':
      return condition.children.flatMap((child, index) => branchesOf(child, `${path}.all[${index}]`));
    case 'any':
      return condition.children.flatMap((child, index) => {
        const own = `${path}.any[${index}]`;
        return [{ path: own, condition: child }, ...branchesOf(child, own)];
      });
  }
}

/** At some entry the rule fires, this finding fits and none before it does. */
export function speaks(rule: Rule, finding: Finding): readonly Goal[] {
  const earlier = rule.findings.slice(0, rule.findings.indexOf(finding));
  const entries = rule.entries.filter((entry) => finding.entries?.includes(entry) ?? true);
  const constructs = (['planned', 'in-place'] as const).filter(
    (construct) => (finding.construct ?? construct) === construct,
  );
  const ways = entries.flatMap((entry) =>
    constructs.map((construct) => [
      ...ofConstruct(construct, rule),
      ...fitting(rule, finding),
      ...earlier
        .filter((one) => (one.entries?.includes(entry) ?? true) && (one.construct ?? construct) === construct)
        .map((one) => notFitting(rule, one)),
    ]),
  );
  return [...fires(rule), { oneOf: ways }];
}

/** The kind of procedure is "implanted" for the replacement in place, and for no planned one. */
function ofConstruct(construct: 'planned' | 'in-place', rule: Rule): readonly Goal[] {
  const asked = JSON.stringify([rule.appliesWhen, rule.when]).includes(`"fact":"${PROCEDURE}"`);
  const isInPlace: Condition = {
    kind: 'leaf',
    fact: PROCEDURE,
    operator: 'equal',
    limit: { value: 'implanted' },
  };
  return asked ? [{ condition: isInPlace, wanted: construct === 'in-place' ? 'true' : 'false' }] : [];
}

const PROCEDURE = 'procedure-kind';

function fitting(rule: Rule, { node, where, given }: Finding): readonly Goal[] {
  const named = node === undefined ? undefined : nodeOf(rule.when, node);
  return [
    ...(named ? [isTrue(named)] : []),
    ...(where ? [isTrue(where)] : []),
    ...(given
      ? [
          { oneOf: given.recorded.map((fact): readonly Goal[] => [{ fact, status: 'present' }]) },
          { fact: given.unknown, status: 'unknown' as const },
        ]
      : []),
  ];
}

function notFitting(rule: Rule, { node, where, given }: Finding): Goal {
  const named = node === undefined ? undefined : nodeOf(rule.when, node);
  const absent = given?.recorded.map((fact): Goal => ({ fact, status: 'not-present' }));
  return {
    oneOf: [
      ...(named ? [[{ condition: named, wanted: 'not-true' as const }]] : []),
      ...(where ? [[{ condition: where, wanted: 'not-true' as const }]] : []),
      ...(given && absent ? [absent, [{ fact: given.unknown, status: 'known' as const }]] : []),
    ],
  };
}

/** The node of this name; of several, the one the engine takes too. */
function nodeOf(condition: Condition, name: string): Condition | undefined {
  if (condition.name === name) return condition;
  const children =
    condition.kind === 'leaf' ? [] : condition.kind === 'not' ? [condition.child] : condition.children;
  for (const child of children) {
    const found = nodeOf(child, name);
    if (found) return found;
  }
  return undefined;
}

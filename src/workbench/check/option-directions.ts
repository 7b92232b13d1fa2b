import type { Advisory } from '../../engine/evaluate.js';
import type { Explanation } from '../../engine/explanation.js';
import type { Fact } from '../../facts/fact.js';
import { piecesOf } from '../../rulebook/placeholders.js';
import type { Finding, Rule, Rulebook } from '../../rulebook/types.js';
import type { Direction, OptionKind, Sense, Subject } from './directions.js';
import { BACK_INSIDE, CONDITIONAL, DIRECTION_WORDS, KIND_WORDS, TARGETS, UP_TO } from './directions.js';

/** An option as it is told on some hip, with its place in the rule. */
export interface ReadOption {
  readonly rule: string;
  readonly finding: number;
  readonly option: number;
  /** As written in the rule. */
  readonly text: string;
  /** The alternative that is told on this hip. */
  readonly told: string;
  readonly kinds: readonly OptionKind[];
  readonly directions: readonly Direction[];
  /** The numbers it names as aims, by the fact they are one of. */
  readonly targets: readonly Target[];
}

export interface Target {
  readonly fact: string;
  readonly value: number;
}

/** Whether a written option is understood at all: what it is about, or which way it may point. */
export function isReadable(text: string, rule: Rule): boolean {
  return bare(text)
    .split(' || ')
    .every((one) => kindsOf(one).length > 0 || waysOf(one, rule).length > 0);
}

/** The words of an option without what only says on which hips it is told. */
function bare(text: string): string {
  return text.replace(/\{(?:if|unless):[a-z0-9-]+\}/g, '');
}

function kindsOf(text: string): readonly OptionKind[] {
  return KIND_WORDS.filter(({ words }) => words.test(text)).map(({ kind }) => kind);
}

/** Every way a finding's options may point on some hip: a number or a range may lie on either side of the value. */
export function possibleDirections({ options = [] }: Finding, rule: Rule): readonly Direction[] {
  return options
    .map(bare)
    .filter((text) => !CONDITIONAL.test(text))
    .flatMap((text) => waysOf(text, rule));
}

function waysOf(text: string, { compute = {} }: Rule): readonly Direction[] {
  return [
    ...DIRECTION_WORDS.filter(({ words }) => words.test(text)),
    ...[...BACK_INSIDE, ...UP_TO]
      .filter(({ words }) => words.test(text))
      .flatMap(({ subject }) => eitherWay(subject)),
    ...text.split(' || ').flatMap((alternative) => {
      const name = leadingName(alternative);
      const measure = name === undefined ? undefined : measureOf(name, compute);
      const subject = measure === undefined ? undefined : TARGETS[measure];
      return subject === undefined ? [] : eitherWay(subject);
    }),
  ];
}

function eitherWay(subject: Subject): readonly Direction[] {
  return [
    { subject, sense: 'more' },
    { subject, sense: 'less' },
  ];
}

export interface OptionScope {
  readonly rule: Rule;
  readonly rulebook: Rulebook;
  readonly facts: ReadonlyMap<string, Fact>;
  readonly advisory: Advisory;
}

/** The options of a rule that fires, as they are told on this hip. */
export function readOptions(scope: OptionScope): readonly ReadOption[] {
  const { rule, advisory } = scope;
  const finding = advisory.fired?.finding;
  if (!finding) return [];
  return (finding.options ?? []).flatMap((text, option) => {
    const chosen = text.split(' || ').find((alternative) => isTold(alternative, scope));
    if (chosen === undefined) return [];
    const told = bare(chosen);
    const place = { rule: rule.id, finding: rule.findings.indexOf(finding), option };
    const aims = [...aimsOf(told, scope), ...limitsOf(told, scope)];
    return [
      {
        ...place,
        text,
        told,
        kinds: kindsOf(told),
        directions: directionsOf(told, aims, scope),
        targets: aims,
      },
    ];
  });
}

function directionsOf(told: string, aims: readonly Aimed[], scope: OptionScope): readonly Direction[] {
  const spoken = DIRECTION_WORDS.filter(({ words }) => words.test(told));
  const back = BACK_INSIDE.filter(({ words }) => words.test(told)).flatMap(({ subject, fact }) =>
    backInside(subject, fact, scope.advisory.when),
  );
  return [
    ...spoken.map(({ subject, sense }) => ({ subject, sense })),
    ...back,
    ...aims.flatMap(({ subject, sense }) => (sense ? [{ subject, sense }] : [])),
  ];
}

interface Aimed extends Target {
  readonly subject: Subject;
  /** Missing where the value found is the aim, or not known. */
  readonly sense?: Sense;
}

/** Where the number up to which something is given lies from the value found. */
function limitsOf(told: string, { facts, rulebook }: OptionScope): readonly Aimed[] {
  return UP_TO.flatMap(({ subject, fact, words }): readonly Aimed[] => {
    const name = words.exec(told)?.[1];
    const limit = name === undefined ? undefined : rulebook.parameters.get(name)?.value;
    if (typeof limit !== 'number') return [];
    const value = exact(facts.get(fact));
    return [{ subject, fact, value: limit, ...((value ?? -Infinity) < limit && { sense: 'more' as const }) }];
  });
}

/** Whether everything an option puts in is at hand: a text with a hole is left out of the card. */
function isTold(text: string, { rule, facts, advisory }: OptionScope): boolean {
  return piecesOf(text).every((piece) => {
    if ('text' in piece) return true;
    const [kind, condition = ''] = piece.name.split(':');
    if (kind === 'if') return advisory.fired?.named.get(condition) === 'true';
    if (kind === 'unless') return advisory.fired?.named.get(condition) === 'false';
    const plain = piece.name.replace(/^[a-z]+:/, '');
    if (Object.hasOwn(rule.compute ?? {}, plain)) return advisory.fired?.numbers.has(plain) ?? false;
    const known = plain.split(',').flatMap((id) => facts.get(id) ?? []);
    return known.length === 0 || known.some(({ state }) => state.status === 'present');
  });
}

function backInside(subject: Subject, fact: string, when: Explanation | undefined): readonly Direction[] {
  return (when ? comparisons(when) : [])
    .filter((one) => one.fact === fact && one.truth === 'true')
    .flatMap(({ operator }) => {
      const sense = AWAY[operator];
      return sense === undefined ? [] : [{ subject, sense }];
    });
}

const AWAY: Readonly<Record<string, Sense>> = {
  above: 'less',
  'clearly-above': 'less',
  'at-least': 'less',
  below: 'more',
  'clearly-below': 'more',
  'at-most': 'more',
};

function comparisons(explanation: Explanation): readonly Extract<Explanation, { kind: 'compare' }>[] {
  switch (explanation.kind) {
    case 'compare':
      return [explanation];
    case 'not':
      return [];
    default:
      return explanation.children.flatMap(comparisons);
  }
}

/** Where the number an option begins with lies from the value found. */
function aimsOf(text: string, scope: OptionScope): readonly Aimed[] {
  const name = leadingName(text);
  const fact = name === undefined ? undefined : measureOf(name, scope.rule.compute ?? {});
  if (name === undefined || fact === undefined) return [];
  const value = scope.advisory.fired?.numbers.get(name)?.value ?? scope.rulebook.parameters.get(name)?.value;
  const found = foundOf(fact, scope.facts);
  const subject = TARGETS[fact];
  if (typeof value !== 'number' || subject === undefined) return [];
  const isThere = found === undefined || found === value;
  return [{ subject, fact, value, ...(!isThere && { sense: value > found ? 'more' : 'less' }) }];
}

/** The value an aim is compared with: of a head it is the one that bears, which in dual mobility is not the inner one. */
function foundOf(fact: string, facts: ReadonlyMap<string, Fact>): number | undefined {
  const bearing = fact === 'head-diameter' ? exact(facts.get('effective-head-diameter')) : undefined;
  return bearing ?? exact(facts.get(fact));
}

/** What may stand before the number an option begins with. */
const LEADING: ReadonlySet<string> = new Set(['', 'cup ', 'cup revision: ']);

/** The name of the number with which an option begins, apart from the cup it is one of. */
function leadingName(text: string): string | undefined {
  const [before, first] = piecesOf(text);
  if (!before || !first || !('text' in before) || !('name' in first)) return undefined;
  return LEADING.has(before.text) ? first.name : undefined;
}

/** The measure a number is one of: a parameter is named after it, a published line asks for anteversion of the cup. */
function measureOf(name: string, compute: NonNullable<Rule['compute']>): string | undefined {
  const computed = compute[name];
  if (computed) return 'line' in computed ? 'cup-anteversion' : undefined;
  return Object.keys(TARGETS)
    .filter((id) => name.startsWith(`${id}-`))
    .sort((a, b) => b.length - a.length)[0];
}

function exact(fact: Fact | undefined): number | undefined {
  if (fact?.state.status !== 'present' || fact.state.value.kind !== 'quantity') return undefined;
  const { low, high } = fact.state.value.interval;
  return low === high ? low : undefined;
}

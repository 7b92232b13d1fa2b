import type { Advisory } from '../../engine/evaluate.js';
import type { Explanation } from '../../engine/explanation.js';
import type { Fact } from '../../facts/fact.js';
import { piecesOf } from '../../rulebook/placeholders.js';
import type { Finding, Rule, Rulebook } from '../../rulebook/types.js';
import type { Direction, Sense, Subject } from './directions.js';
import { BACK_INSIDE, CONDITIONAL, DIRECTION_WORDS, TARGETS } from './directions.js';

/** An option that points somewhere, with its place in the rule. */
export interface DirectedOption {
  readonly rule: string;
  readonly finding: number;
  readonly option: number;
  readonly text: string;
  readonly directions: readonly Direction[];
}

/** Every way a finding's options may point on some hip: a number or a range may lie on either side of the value. */
export function possibleDirections({ options = [] }: Finding, { compute = {} }: Rule): readonly Direction[] {
  return options
    .filter((text) => !CONDITIONAL.test(text))
    .flatMap((text) => [
      ...DIRECTION_WORDS.filter(({ words }) => words.test(text)),
      ...BACK_INSIDE.filter(({ words }) => words.test(text)).flatMap(({ subject }) => eitherWay(subject)),
      ...text.split(' || ').flatMap((alternative) => {
        const name = leadingName(alternative);
        const measure = name === undefined ? undefined : measureOf(name, compute);
        const subject = measure === undefined ? undefined : TARGETS[measure];
        return subject === undefined ? [] : eitherWay(subject);
      }),
    ]);
}

function eitherWay(subject: Subject): readonly Direction[] {
  return [
    { subject, sense: 'more' },
    { subject, sense: 'less' },
  ];
}

interface OptionScope {
  readonly rule: Rule;
  readonly rulebook: Rulebook;
  readonly facts: ReadonlyMap<string, Fact>;
  readonly advisory: Advisory;
}

/** Which way the options of a rule that fires point on this hip. */
export function directedOptions(scope: OptionScope): readonly DirectedOption[] {
  const { rule, advisory } = scope;
  const finding = advisory.fired?.finding;
  if (!finding) return [];
  return (finding.options ?? []).flatMap((text, option) => {
    const directions = directionsOf(text, scope);
    return directions.length === 0
      ? []
      : [{ rule: rule.id, finding: rule.findings.indexOf(finding), option, text, directions }];
  });
}

function directionsOf(text: string, scope: OptionScope): readonly Direction[] {
  const told = text.split(' || ').find((alternative) => isTold(alternative, scope));
  if (told === undefined) return [];
  const spoken = DIRECTION_WORDS.filter(({ words }) => words.test(told));
  const back = BACK_INSIDE.filter(({ words }) => words.test(told)).flatMap(({ subject, fact }) =>
    backInside(subject, fact, scope.advisory.when),
  );
  const target = targetOf(told, scope);
  return [...spoken.map(({ subject, sense }) => ({ subject, sense })), ...back, ...(target ? [target] : [])];
}

/** Whether everything an option puts in is at hand: a text with a hole is left out of the card. */
function isTold(text: string, { rule, facts, advisory }: OptionScope): boolean {
  return piecesOf(text).every((piece) => {
    if ('text' in piece) return true;
    if (Object.hasOwn(rule.compute ?? {}, piece.name))
      return advisory.fired?.numbers.has(piece.name) ?? false;
    const ids = piece.name.replace(/^[a-z]+:/, '').split(',');
    const known = ids.flatMap((id) => facts.get(id) ?? []);
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
function targetOf(text: string, scope: OptionScope): Direction | undefined {
  const name = leadingName(text);
  const measure = name === undefined ? undefined : measureOf(name, scope.rule.compute ?? {});
  if (name === undefined || measure === undefined) return undefined;
  const target = scope.advisory.fired?.numbers.get(name)?.value ?? scope.rulebook.parameters.get(name)?.value;
  const value = exact(scope.facts.get(measure));
  const subject = TARGETS[measure];
  if (typeof target !== 'number' || value === undefined || subject === undefined || target === value)
    return undefined;
  return { subject, sense: target > value ? 'more' : 'less' };
}

/** The name of the number with which an option begins, apart from the word "cup". */
function leadingName(text: string): string | undefined {
  const [before, first] = piecesOf(text);
  if (!before || !first || !('text' in before) || !('name' in first)) return undefined;
  return before.text === '' || before.text === 'cup ' ? first.name : undefined;
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

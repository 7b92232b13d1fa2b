import { piecesOf } from '../../rulebook/placeholders.js';
import { namedIn } from '../../rulebook/resolve-rule.js';
import type { Compute, Parameter, Rule, Rulebook } from '../../rulebook/types.js';
import { quantityText, titleOf } from '../words.js';

/** Parts wordings of which the next is used where the one before has a hole. */
export const OR_ELSE = ' — or, where that is not known: ';

/**
 * A message of a rule for a reader without a patient: parameters are put in, everything that comes from the patient
 * stands in ‹…› by its name. Alternatives, parted by ` || `, stand one after another.
 */
export function readableWords(message: string, rule: Rule, rulebook: Rulebook): string {
  return message
    .split(' || ')
    .map((alternative) => filledIn(alternative, rule, rulebook))
    .join(OR_ELSE);
}

function filledIn(message: string, rule: Rule, rulebook: Rulebook): string {
  return piecesOf(message)
    .map((piece) => ('text' in piece ? piece.text : placeholderText(piece.name, rule, rulebook)))
    .join('');
}

function placeholderText(name: string, rule: Rule, rulebook: Rulebook): string {
  const [id = name, member] = name.split('.');
  // As on a card: what the rule computes under a name goes before a parameter of that name.
  const parameter = rule.compute?.[name] ? undefined : rulebook.parameters.get(id);
  if (parameter) return parameterText(parameter, member);
  const [kind = '', subject] = name.split(':');
  const named = namedIn(name);
  if (named !== undefined)
    return `‹${kind === 'if' ? 'where' : 'unless'} ${rulebook.conditionTitles.get(named) ?? named}› `;
  if (kind === 'causes') return `‹${subject === 'named' ? 'causes found' : 'causes that stay open'}›`;
  return `‹${subject === undefined ? numberText(name, rule, rulebook) : specialText(kind, subject, rule, rulebook)}›`;
}

/** A parameter's value, or one member of it; a pair is an interval. */
export function parameterText({ value, unit }: Parameter, member?: string): string {
  if (member !== undefined) {
    const part = (value as Readonly<Record<string, unknown>>)[member];
    return Array.isArray(part) ? part.join('–') : String(part);
  }
  if (typeof value === 'number') return quantityText(value, unit);
  if (isPair(value)) return `${value[0]} to ${quantityText(value[1], unit)}`;
  if (Array.isArray(value)) return `motions: ${value.map(({ name }) => name).join(', ')}`;
  return Object.entries(value)
    .map(([name, part]) => memberText(name, Array.isArray(part) ? part.join('–') : String(part)))
    .join(', ');
}

/** Members that have a name of their own in print. */
const PRINTED: Readonly<Record<string, string>> = { or: 'OR', hr: 'HR', rr: 'RR', ci95: '95 % CI' };

/** A member in words: `oneToTwoPct` is “one to two … %”. */
function memberText(name: string, part: string): string {
  const printed = PRINTED[name];
  if (printed !== undefined) return `${printed} ${part}`;
  const words = name.replaceAll(/(?<=[a-z])(?=[A-Z0-9])/g, ' ').toLowerCase();
  return words.endsWith(' pct') ? `${words.slice(0, -4)} ${part} %` : `${words} ${part}`;
}

function isPair(value: Parameter['value']): value is [number, number] {
  return Array.isArray(value) && value.every((part) => typeof part === 'number');
}

function numberText(name: string, rule: Rule, rulebook: Rulebook): string {
  const compute = rule.compute?.[name];
  return compute ? computeText(compute, rule, rulebook) : titleOf(name, rulebook);
}

function computeText(compute: Compute, rule: Rule, rulebook: Rulebook): string {
  if ('line' in compute)
    return `${titleOf('cup-anteversion', rulebook)} that the line ${compute.line.parameter} asks for`;
  if ('change' in compute) {
    const { computation, per, step } = compute.change;
    const size = rulebook.parameters.get(step.parameter);
    return `change of ${titleOf(computation, rulebook)} per ${size ? parameterText(size) : ''} of ${titleOf(per, rulebook)}`;
  }
  if ('matching' in compute) {
    const { vary, computation, equals } = compute.matching;
    return `${titleOf(vary, rulebook)} that gives the same ${titleOf(computation, rulebook)} as the ${numberText(equals, rule, rulebook)}`;
  }
  const given = Object.entries(compute.with ?? {}).map(
    ([input, source]) => `${titleOf(input, rulebook)} ${sourceText(source, rule, rulebook)}`,
  );
  const motions = compute.motionSet ? [`the motions of ${compute.motionSet.parameter}`] : [];
  const all = [...given, ...motions];
  return `${titleOf(compute.computation, rulebook)}${all.length === 0 ? '' : ` with ${all.join(' and ')}`}`;
}

type Source = NonNullable<Extract<Compute, { computation: string }>['with']>[string];

function sourceText(source: Source, rule: Rule, rulebook: Rulebook): string {
  if ('computed' in source) return `of the ${numberText(source.computed, rule, rulebook)}`;
  if ('fact' in source) return `as ${titleOf(source.fact, rulebook)}`;
  const parameter = rulebook.parameters.get(source.parameter);
  return parameter ? parameterText(parameter) : source.parameter;
}

/** A list of all triggers would bury the sentence it stands in; the conditions name each. */
const MOST_NAMED = 4;

function specialText(kind: string, subject: string, rule: Rule, rulebook: Rulebook): string {
  const all = subject.split(',').map((id) => titleOf(id, rulebook));
  const more = all.length - MOST_NAMED;
  const titles = more > 1 ? `${all.slice(0, MOST_NAMED).join(', ')} and ${more} more` : all.join(', ');
  switch (kind) {
    case 'stated':
      return 'cup angles as recorded, and as radiographic angles where that differs';
    case 'date':
      return `date of ${titles}`;
    case 'retained':
      return `whether the component stays in place: ${titles}`;
    case 'margin':
      return `least margin and its motion, ${numberText(subject, rule, rulebook)}`;
    default:
      return `as recorded: ${titles}`;
  }
}

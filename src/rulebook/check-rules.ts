import { couplingLine } from './coupling-line.js';
import type { ParsedPack } from './parse-pack.js';
import type { Parsed } from './parse.js';
import { placeholdersOf } from './placeholders.js';
import { wordsOf } from './resolve-rule.js';
import type { ConditionFile } from './rule-schema.js';
import type { Compute, ComputationFile, FindingFile, Parameter, RuleFile } from './types.js';

export type Report = (file: string, path: string, expected: string, found: string) => void;

/** Everything a rule may name. */
export interface Names {
  readonly facts: ReadonlyMap<string, { readonly unit: string | undefined }>;
  readonly parameters: ReadonlyMap<string, Parameter>;
  readonly computations: ReadonlyMap<string, ComputationFile>;
  readonly citations: ReadonlySet<string>;
}

export function namesOf(parsed: ParsedPack): Names {
  const units = parsed.facts.map(
    ({ value }) => [value.id, { unit: 'unit' in value ? value.unit : undefined }] as const,
  );
  return {
    facts: new Map(units),
    parameters: new Map(parsed.parameters.map(({ value }) => [value.id, value])),
    computations: new Map(parsed.computations.map(({ value }) => [value.id, value])),
    citations: new Set(parsed.citations.map(({ value }) => value.id)),
  };
}

/** Checks what one rule cites, computes and says. */
export function checkRule(rule: Parsed<RuleFile>, names: Names, report: Report): void {
  const { file, value } = rule;
  const cited = [
    ...(value.citations ?? []).map(({ key }) => key),
    ...(value.effects ?? []).flatMap((effect) => effect.citations),
  ];
  for (const key of cited)
    if (!names.citations.has(key)) report(file, 'citations', 'a file in citations/', key);
  if ((value.citations?.length ?? 0) === 0 && value.basis === undefined)
    report(file, 'citations', 'citations, or a stated basis', 'neither');
  checkEffects(rule, names, report);
  for (const [name, compute] of Object.entries(value.compute ?? {})) {
    if (names.facts.has(name) || names.parameters.has(name))
      report(file, `compute.${name}`, 'a name no fact or parameter has', name);
    checkCompute({ file, name, compute, earlier: earlierThan(name, value) }, names, report);
  }
  checkFindings(rule, names, report);
}

function checkEffects({ file, value }: Parsed<RuleFile>, names: Names, report: Report): void {
  for (const [index, effect] of (value.effects ?? []).entries()) {
    const path = `effects[${index}]`;
    if (effect.node !== undefined && !nodeNames(value.when).includes(effect.node))
      report(file, `${path}.node`, 'a name in when', effect.node);
    if (!names.facts.has(effect.fact)) report(file, path, 'a fact that is defined', effect.fact);
    if (effect.parameter !== undefined && !names.parameters.has(effect.parameter))
      report(file, path, 'a defined parameter', effect.parameter);
    checkMessage({ file, path, message: effect.says, rule: value }, names, report);
  }
}

function earlierThan(name: string, { compute }: RuleFile): ReadonlySet<string> {
  const all = Object.keys(compute ?? {});
  return new Set(all.slice(0, all.indexOf(name)));
}

interface ComputePlace {
  readonly file: string;
  readonly name: string;
  readonly compute: Compute;
  /** Numbers written before this one, which it may build on. */
  readonly earlier: ReadonlySet<string>;
}

function checkCompute(place: ComputePlace, names: Names, report: Report): void {
  const { file, name, compute } = place;
  const path = `compute.${name}`;
  if ('line' in compute) {
    checkLine({ file, path, line: compute.line }, names, report);
    return;
  }
  const part = 'computation' in compute ? compute : 'change' in compute ? compute.change : compute.matching;
  const computation = names.computations.get(part.computation);
  if (!computation) {
    report(file, path, 'a computation that is defined', part.computation);
    return;
  }
  for (const [fact, source] of Object.entries(part.with ?? {})) {
    if (!computation.inputs.some((input) => input.fact === fact)) {
      report(file, `${path}.with`, `an input of ${computation.id}`, fact);
    } else if ('computed' in source) {
      if (!place.earlier.has(source.computed))
        report(file, `${path}.with.${fact}`, 'a number computed before', source.computed);
    } else if ('fact' in source) {
      checkStandIn({ file, path: `${path}.with.${fact}`, input: fact, fact: source.fact }, names, report);
    } else {
      checkNumber(
        { file, path: `${path}.with.${fact}`, id: source.parameter, unit: names.facts.get(fact)?.unit },
        names,
        report,
      );
    }
  }
  if ('computation' in compute && compute.motionSet)
    checkMotionSet({ file, path, id: compute.motionSet.parameter, computation }, names, report);
  if ('change' in compute) {
    const unit = names.facts.get(compute.change.per)?.unit;
    checkNumber(
      { file, path: `${path}.change.step`, id: compute.change.step.parameter, unit },
      names,
      report,
    );
  }
  if ('matching' in compute) checkMatching(place, compute.matching, names, report);
}

/** A line is a parameter that may be computed with and has both its members; the stem is a fact in its unit. */
function checkLine(
  {
    file,
    path,
    line,
  }: {
    readonly file: string;
    readonly path: string;
    readonly line: Extract<Compute, { line: unknown }>['line'];
  },
  names: Names,
  report: Report,
): void {
  const parameter = names.parameters.get(line.parameter);
  const unit = parameter?.unit;
  if (!parameter || parameter.use === 'quoted' || !couplingLine(parameter.value))
    report(
      file,
      `${path}.line`,
      'a parameter with sum and stemWeight that may be computed with',
      line.parameter,
    );
  const stem = names.facts.get(line.stem);
  if (stem?.unit === undefined || stem.unit !== unit)
    report(file, `${path}.line.stem`, `a fact in ${unit ?? 'the unit of the line'}`, line.stem);
  if (line.atMost)
    checkNumber({ file, path: `${path}.line.atMost`, id: line.atMost.parameter, unit }, names, report);
}

/** Motions may be put in where the computation runs motions at all. */
function checkMotionSet(
  place: {
    readonly file: string;
    readonly path: string;
    readonly id: string;
    readonly computation: ComputationFile;
  },
  names: Names,
  report: Report,
): void {
  const { file, path, id, computation } = place;
  if (computation.motionSet === undefined)
    report(file, `${path}.motionSet`, 'a computation with a motion set', computation.id);
  const use = names.parameters.get(id)?.use;
  if (use !== 'motion-set') report(file, `${path}.motionSet`, 'a parameter that is a motion set', id);
}

/** Another fact may stand in for an input when it is defined and a number in the same unit. */
function checkStandIn(
  place: { readonly file: string; readonly path: string; readonly input: string; readonly fact: string },
  names: Names,
  report: Report,
): void {
  const unit = names.facts.get(place.input)?.unit;
  const other = names.facts.get(place.fact);
  if (!other) report(place.file, place.path, 'a fact that is defined', place.fact);
  else if (place.fact === place.input)
    report(place.file, place.path, 'another fact than the input itself', place.fact);
  else if (other.unit === undefined || other.unit !== unit)
    report(
      place.file,
      place.path,
      `a fact in ${unit ?? 'no unit'}`,
      `${place.fact} in ${other.unit ?? 'no unit'}`,
    );
}

function checkMatching(
  place: ComputePlace,
  matching: Extract<Compute, { matching: unknown }>['matching'],
  names: Names,
  report: Report,
): void {
  const path = `compute.${place.name}.matching`;
  const range = names.parameters.get(matching.within.parameter);
  if (!isRange(range?.value))
    report(place.file, `${path}.within`, 'a parameter that is a range', matching.within.parameter);
  if (!place.earlier.has(matching.equals))
    report(place.file, `${path}.equals`, 'a number computed before', matching.equals);
}

export function isRange(value: unknown): boolean {
  return Array.isArray(value) && value.length === 2 && value.every((end) => typeof end === 'number');
}

/** A parameter used as a number must be one, in the unit of what it stands for, and not merely quoted. */
export function checkNumber(
  use: {
    readonly file: string;
    readonly path: string;
    readonly id: string;
    readonly unit: string | undefined;
  },
  names: Names,
  report: Report,
): void {
  const parameter = names.parameters.get(use.id);
  if (!parameter) report(use.file, use.path, 'a defined parameter', use.id);
  else if (typeof parameter.value !== 'number')
    report(use.file, use.path, 'a parameter that is one number', use.id);
  else if (parameter.use === 'quoted')
    report(use.file, use.path, 'a parameter that may be computed with', `${use.id} (quoted only)`);
  else if (use.unit !== undefined && parameter.unit !== use.unit)
    report(use.file, use.path, `a parameter in ${use.unit}`, `${use.id} in ${parameter.unit}`);
}

/** Every fact a finding names outside its messages, with where: a name nobody defined would never come true. */
function factsNamed({ given, notKnown, before = [] }: FindingFile): readonly (readonly [string, string])[] {
  return [
    ...(given?.recorded ?? []).map((fact) => ['.given', fact] as const),
    ...(given ? [['.given', given.unknown] as const] : []),
    ...notKnown.map(({ fact }) => ['', fact] as const),
    ...before.flatMap(({ fact, unless }) =>
      [fact, unless].flatMap((name) => (name === undefined ? [] : [['', name] as const])),
    ),
  ];
}

function checkFindings({ file, value }: Parsed<RuleFile>, names: Names, report: Report): void {
  const nodes = new Set(nodeNames(value.when));
  for (const [index, finding] of value.findings.entries()) {
    const path = `findings[${index}]`;
    if (finding.node !== undefined && !nodes.has(finding.node))
      report(file, `${path}.node`, 'a name in when', finding.node);
    checkOffers({ file, path, finding, intent: value.intent }, report);
    for (const [where, fact] of factsNamed(finding)) {
      if (!names.facts.has(fact)) report(file, `${path}${where}`, 'a fact that is defined', fact);
    }
    for (const message of wordsOf(finding)) {
      checkMessage({ file, path, message, rule: value }, names, report);
    }
  }
  const silent = value.entries.filter(
    (entry) => !value.findings.some(({ entries }) => entries === undefined || entries.includes(entry)),
  );
  if (silent.length > 0) report(file, 'findings', `a finding that speaks at ${silent.join(', ')}`, 'none');
}

function nodeNames(condition: ConditionFile): readonly string[] {
  if ('condition' in condition) return [condition.condition];
  const own = condition.name === undefined ? [] : [condition.name];
  if ('all' in condition) return [...own, ...condition.all.flatMap(nodeNames)];
  if ('any' in condition) return [...own, ...condition.any.flatMap(nodeNames)];
  return 'not' in condition ? [...own, ...nodeNames(condition.not)] : own;
}

/** Each finding offers options, asks for checks or prepares; "no change" is an option of planning and of nothing else. */
function checkOffers(
  {
    file,
    path,
    finding,
    intent,
  }: {
    readonly file: string;
    readonly path: string;
    readonly finding: FindingFile;
    readonly intent: RuleFile['intent'];
  },
  report: Report,
): void {
  const isNoChange = (text: string): boolean => text.startsWith('no change');
  const { options, checks, before } = finding;
  if (!options && !checks && !before) report(file, path, 'options, checks or before', 'none');
  if (options && intent === 'planning' && !options.some(isNoChange))
    report(file, `${path}.options`, '"no change" among the options', options.join(' · '));
  if (checks?.some(isNoChange))
    report(file, `${path}.checks`, 'checks without "no change"', checks.join(' · '));
}

interface MessagePlace {
  readonly file: string;
  readonly path: string;
  readonly message: string;
  readonly rule: RuleFile;
}

function checkMessage({ file, path, message, rule }: MessagePlace, names: Names, report: Report): void {
  for (const name of placeholdersOf(message)) {
    if (!canBeFilled(name, rule, names)) report(file, path, 'a placeholder that can be filled', `{${name}}`);
  }
}

function canBeFilled(name: string, rule: RuleFile, names: Names): boolean {
  const colon = name.indexOf(':');
  if (colon >= 0) return canBeFilledSpecially(name.slice(0, colon), name.slice(colon + 1), rule, names);
  const dot = name.indexOf('.');
  if (dot >= 0) {
    const value = names.parameters.get(name.slice(0, dot))?.value;
    return typeof value === 'object' && !Array.isArray(value) && Object.hasOwn(value, name.slice(dot + 1));
  }
  return (
    Object.hasOwn(rule.compute ?? {}, name) ||
    names.parameters.has(name) ||
    names.computations.has(name) ||
    names.facts.has(name)
  );
}

function canBeFilledSpecially(
  kind: string,
  rest: string,
  { compute = {}, causes }: RuleFile,
  names: Names,
): boolean {
  switch (kind) {
    case 'stated':
      return rest === 'cup';
    case 'date':
    case 'retained':
      return names.facts.has(rest);
    case 'margin':
    case 'reach':
      return Object.hasOwn(compute, rest);
    case 'texts':
      return rest.split(',').every((id) => names.facts.has(id));
    // That the condition is defined is checked where it is resolved.
    case 'if':
    case 'unless':
      return true;
    case 'causes':
      return causes !== undefined && (rest === 'named' || rest === 'open');
    default:
      return false;
  }
}

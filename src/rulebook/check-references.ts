import { baseId } from './code-lists.js';
import { checkFactLinks } from './check-fact-links.js';
import { checkGoverned } from './check-governed.js';
import { checkParameters } from './check-parameters.js';
import { checkNumber, checkRule, namesOf } from './check-rules.js';
import { checkYielding } from './check-yielding.js';
import type { Names, Report } from './check-rules.js';
import type { FactFile, ParsedPack } from './parse-pack.js';
import type { RulebookIssue } from './pack.js';
import type { Parsed } from './parse.js';
import type { ComputationFile } from './types.js';

/** Checks every name in the rulebook against what it should name; collects all faults rather than stopping at one. */
export function checkReferences(
  parsed: ParsedPack,
  computations: readonly string[],
  issues: RulebookIssue[],
): void {
  const report: Report = (file, path, expected, found) => issues.push({ file, path, expected, found });
  checkIds(parsed, report);
  const names = namesOf(parsed);
  checkFiles(parsed, report);
  checkAnswers(parsed, report);
  checkParameters(parsed, names, report);
  checkFacts(parsed, report);
  checkComputations(parsed, { computations, names }, report);
  checkOperations(parsed, report);
  checkMethods(parsed, report);
  checkSiteRemarks(parsed, report);
  for (const rule of parsed.rules) checkRule(rule, names, report);
  checkYielding({ rules: parsed.rules, refused: parsed.refusedRules }, report);
  checkFirst(parsed, report);
  checkGoverned(parsed, names, report);
}

/** What comes first is a rule, and stands once. */
function checkFirst(parsed: ParsedPack, report: Report): void {
  const rules = new Set([...parsed.rules.map(({ value }) => value.id), ...parsed.refusedRules]);
  const first = parsed.about?.value.first ?? [];
  for (const [index, id] of first.entries())
    if (!rules.has(id) || first.indexOf(id) !== index)
      report('rulebook.json', `first[${index}]`, 'a rule, named once', id);
}

/** A file in a folder that nothing reads would be hashed, shipped and silent: a misspelt folder must not cost a rule. */
function checkFiles(parsed: ParsedPack, report: Report): void {
  for (const path of parsed.unread)
    report(path, '', 'a file in a folder the rulebook reads', 'one that nothing reads');
}

/** What a card offers as a reason is a code of the published code system, under its own words. */
function checkAnswers(parsed: ParsedPack, report: Report): void {
  const system = parsed.codeSystems.find(
    ({ value }) => value.url === parsed.about?.value.systems.overrideReason,
  );
  const known = new Map(system?.value.concept.map(({ code, display }) => [code, display]));
  for (const intent of ['planning', 'check'] as const) {
    for (const { code, display } of parsed.about?.value.answers[intent].reasons ?? []) {
      if (known.get(code) !== display)
        report(
          'rulebook.json',
          `answers.${intent}.reasons`,
          `a code of ${system?.file ?? 'a code system'}`,
          code,
        );
    }
  }
}

/** An id equals its file name and stands for one thing. */
function checkIds(parsed: ParsedPack, report: Report): void {
  const files = [
    ...parsed.rules,
    ...parsed.facts,
    ...parsed.computations,
    ...parsed.citations,
    ...parsed.conditions,
    ...parsed.groups,
    ...parsed.codeSystems,
  ];
  for (const { file, value } of files) {
    if (baseName(file) !== value.id) report(file, 'id', baseName(file), value.id);
  }
  for (const { file, value } of parsed.valueSets) {
    if (baseName(file) !== baseId(value.id)) report(file, 'id', baseName(file), value.id);
  }
  // Facts and computations share one space of names, because a condition may ask about either.
  for (const group of [
    parsed.rules,
    [...parsed.facts, ...parsed.computations],
    parsed.parameters,
    parsed.citations,
    parsed.conditions,
    parsed.valueSets,
    parsed.groups,
  ]) {
    const seen = new Map<string, string>();
    for (const { file, value } of group) {
      const first = seen.get(value.id);
      if (first !== undefined) report(file, 'id', `an id not used in ${first}`, value.id);
      seen.set(value.id, file);
    }
  }
}

function baseName(path: string): string {
  return path.slice(path.lastIndexOf('/') + 1).replace(/\.json$/, '');
}

function idsOf(parsed: readonly Parsed<{ readonly id: string }>[]): ReadonlySet<string> {
  return new Set(parsed.map(({ value }) => value.id));
}

function checkFacts(parsed: ParsedPack, report: Report): void {
  const parameters = new Map(parsed.parameters.map(({ value }) => [value.id, value]));
  const sets = new Set(parsed.valueSets.map(({ value }) => baseId(value.id)));
  const about = parsed.about?.value;
  for (const { file, value } of parsed.facts) {
    checkValueSets(file, value, sets, report);
    if (value.kind === 'carried-out') checkCarriedOut(file, value, parsed, report);
    checkFactLinks(file, value, parsed, report);
    if (
      'plausible' in value &&
      value.plausible &&
      !Array.isArray(parameters.get(value.plausible.parameter)?.value)
    ) {
      report(file, 'plausible', 'a parameter that is a range', value.plausible.parameter);
    }
    if (value.kind !== 'measure') continue;
    const numbers = [
      value.conflict,
      value.measuringError?.otherwise,
      ...Object.values(value.measuringError?.byMethod ?? {}),
    ];
    for (const reference of numbers) {
      if (reference && typeof parameters.get(reference.parameter)?.value !== 'number') {
        report(file, 'conflict or measuringError', 'a parameter that is one number', reference.parameter);
      }
    }
    for (const component of value.components) {
      if (about && !Object.hasOwn(about.qualifiers, component))
        report(file, 'components', 'a qualifier of rulebook.json', component);
    }
    const numeric = value.valueType === 'quantity' || value.valueType === 'integer';
    if (numeric && (value.unit === undefined || !value.plausible))
      report(file, '', 'a unit and plausible limits', value.id);
    if (value.valueType === 'code' && !value.values) report(file, 'values', 'the codes it may have', 'none');
  }
}

/** Only what is both planned and measured afterwards can be compared with its plan. */
function checkCarriedOut(
  file: string,
  { of, unit }: Extract<FactFile, { kind: 'carried-out' }>,
  parsed: ParsedPack,
  report: Report,
): void {
  const measure = parsed.facts.find(({ value }) => value.id === of)?.value;
  if (
    measure?.kind !== 'measure' ||
    !measure.stages.includes('planned') ||
    !measure.stages.includes('postoperative')
  )
    report(file, 'of', 'a measure that is planned and measured postoperatively', of);
  else if (measure.unit !== unit) report(file, 'unit', measure.unit ?? 'no unit', unit);
}

const SET_MEMBERS = ['valueSet', 'procedureValueSet', 'sitedValueSet', 'unclearValueSet'] as const;

/** A fact that reads codes names value sets that exist; what was done stays done, so procedures say "once". */
function checkValueSets(file: string, fact: FactFile, sets: ReadonlySet<string>, report: Report): void {
  const members: Readonly<Record<string, unknown>> = fact;
  for (const member of SET_MEMBERS) {
    const id = members[member];
    if (typeof id === 'string' && !sets.has(id)) report(file, member, 'a file in value-sets/', id);
  }
  if (fact.kind !== 'condition') return;
  if (fact.valueSet === undefined && fact.procedureValueSet === undefined)
    report(file, '', 'a valueSet or a procedureValueSet', 'neither');
  if (fact.procedureValueSet !== undefined && fact.status !== 'lifetime')
    report(file, 'status', 'lifetime, because procedures are history', fact.status);
}

function checkComputations(
  parsed: ParsedPack,
  { computations, names }: { readonly computations: readonly string[]; readonly names: Names },
  report: Report,
): void {
  const known = new Set([...idsOf(parsed.facts), ...idsOf(parsed.computations)]);
  const parameters = idsOf(parsed.parameters);
  const citations = idsOf(parsed.citations);
  for (const { file, value } of parsed.computations) {
    if (!computations.includes(value.id)) report(file, 'id', 'a computation the engine knows', value.id);
    for (const [index, input] of value.inputs.entries()) {
      if (!known.has(input.fact)) report(file, `inputs[${index}].fact`, 'a fact that is defined', input.fact);
      checkStage({ file, path: `inputs[${index}].stage`, input }, parsed, report);
      const fallback = input.whenMissing?.default.parameter;
      const path = `inputs[${index}].whenMissing`;
      if (fallback !== undefined)
        checkNumber({ file, path, id: fallback, unit: names.facts.get(input.fact)?.unit }, names, report);
    }
    checkOtherInputs(file, value, report);
    for (const [name, { parameter }] of Object.entries(value.parameters ?? {}))
      checkNumber({ file, path: `parameters.${name}`, id: parameter, unit: undefined }, names, report);
    if (value.unworn !== undefined && !known.has(value.unworn.fact))
      report(file, 'unworn', 'a fact that is defined', value.unworn.fact);
    const set = value.motionSet?.parameter;
    if (set !== undefined && !parameters.has(set)) report(file, 'motionSet', 'a defined parameter', set);
    for (const key of value.citations)
      if (!citations.has(key)) report(file, 'citations', 'a file in citations/', key);
  }
  const files = idsOf(parsed.computations);
  for (const id of computations) {
    if (!files.has(id)) report('computations', id, 'a file for each computation of the engine', 'none');
  }
}

/** What an input depends on is an input too, and named before it; one that may be left out needs no default. */
function checkOtherInputs(file: string, { inputs, atLeastOneOf }: ComputationFile, report: Report): void {
  const facts = inputs.map(({ fact }) => fact);
  for (const one of atLeastOneOf ?? [])
    if (!inputs.some(({ fact, optional }) => fact === one && optional))
      report(file, 'atLeastOneOf', 'inputs that may be left out', one);
  for (const [index, { onlyWith = [], turnsWith = [], optional, whenMissing }] of inputs.entries()) {
    const path = `inputs[${index}]`;
    for (const other of onlyWith)
      if (!facts.slice(0, index).includes(other))
        report(file, `${path}.onlyWith`, 'an input named before', other);
    for (const other of turnsWith)
      if (!facts.includes(other)) report(file, `${path}.turnsWith`, 'an input', other);
    if (optional && whenMissing) report(file, path, 'optional or whenMissing', 'both');
  }
}

/** A stage can only be asked of a measure that is recorded at it, or the input would never be known. */
function checkStage(
  place: { readonly file: string; readonly path: string; readonly input: ComputationFile['inputs'][number] },
  parsed: ParsedPack,
  report: Report,
): void {
  const { fact, stage } = place.input;
  if (stage === undefined) return;
  const measure = parsed.facts.find(({ value }) => value.id === fact)?.value;
  if (measure?.kind !== 'measure' || !measure.stages.includes(stage))
    report(place.file, place.path, `a stage of ${fact}`, stage);
}

/** Methods are named as the qualifier of that name has them. */
function checkMethods(parsed: ParsedPack, report: Report): void {
  const about = parsed.about?.value;
  const methods = about?.qualifiers['method'];
  for (const method of about?.methodsShowingSign ?? []) {
    if (!Array.isArray(methods) || !methods.includes(method))
      report('rulebook.json', 'methodsShowingSign', 'a method of qualifiers', method);
  }
}

function checkOperations(parsed: ParsedPack, report: Report): void {
  const sets = new Set(parsed.valueSets.map(({ value }) => baseId(value.id)));
  const about = parsed.about?.value;
  for (const [member, map] of Object.entries({
    operations: about?.operations,
    appointmentOperations: about?.appointmentOperations,
    historyOperations: about?.historyOperations,
  })) {
    for (const id of Object.keys(map ?? {}))
      if (!sets.has(id)) report('rulebook.json', member, 'a file in value-sets/', id);
  }
}

/** What a site's map may supply beside the rulebook's own qualifiers. */
const SUPPLIED: readonly string[] = ['stage', 'side', 'unit', 'sign'];

/** Nothing a map supplies goes unsaid: each has its words, and words have something to say. */
function checkSiteRemarks(parsed: ParsedPack, report: Report): void {
  const about = parsed.about?.value;
  if (!about) return;
  const told = Object.keys(about.site.remarks.qualifiers);
  const wanted = [...SUPPLIED, ...Object.keys(about.qualifiers)];
  const path = 'site.remarks.qualifiers';
  for (const name of wanted)
    if (!told.includes(name)) report('rulebook.json', path, `words for ${name}`, 'none');
  for (const name of told)
    if (!wanted.includes(name)) report('rulebook.json', path, `one of ${wanted.join(', ')}`, name);
}

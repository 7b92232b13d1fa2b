import { sortedUnique } from '../../base/order.js';
import { placeholdersOf } from '../../rulebook/placeholders.js';
import type { Parsed } from '../../rulebook/parse.js';
import type { FactFile, ParsedPack } from '../../rulebook/parse-pack.js';
import { DATA_USES } from '../../rulebook/schema-parts.js';
import type { RuleFile } from '../../rulebook/types.js';
import { DATA_USE_ATTRIBUTES } from '../../render/evidence/source-attributes.js';
import type { DataUse } from '../../render/evidence/source-attributes.js';
import { faultsOf } from './finding.js';
import type { Fault, ReportFault } from './finding.js';

/**
 * Whether the 13 source attributes of an evidence-based intervention, 45 CFR 170.315(b)(11)(iv)(A), are stated for each
 * rule, and stated rightly. The form of the files asks for developer (2), funding (3) and release (4), and for citations
 * or a stated basis (1); here dates are put in order, and what is declared about data of a person (5 to 13) is held
 * against the facts each rule reads.
 */
export function checkAttributes(parsed: ParsedPack): readonly Fault[] {
  return faultsOf('attributes', (report) => {
    checkRelease(parsed, report);
    const names = namesOf(parsed);
    for (const rule of parsed.rules) {
      checkDates(rule, report);
      checkUses(rule, parsed, factsRead(rule.value, names), report);
    }
  });
}

function checkRelease({ about }: ParsedPack, report: ReportFault): void {
  if (!about) return;
  const { version, changes } = about.value;
  if (!changes.some((change) => change.version === version))
    report(
      about.file,
      'changes',
      `source attribute 4, release date: an entry for version ${version}`,
      'none',
    );
}

function checkDates({ file, value }: Parsed<RuleFile>, report: ReportFault): void {
  const { released, revised = [], review, reviewBy } = value;
  if (released === undefined) return;
  const days = [released, ...revised];
  const early = days.find((day, index) => index > 0 && day <= (days[index - 1] ?? ''));
  if (early !== undefined)
    report(file, 'revised', 'source attribute 4: days of revision after the release, in order', early);
  if (review?.state === 'reviewed' && review.on < (days.at(-1) ?? ''))
    report(file, 'review.on', `a review of what was last changed on ${days.at(-1) ?? ''}`, review.on);
  if (reviewBy <= (days.at(-1) ?? '')) report(file, 'reviewBy', `a day after ${days.at(-1) ?? ''}`, reviewBy);
}

/** Declared and found must be the same: a "not used" that is used misleads, and so does the reverse. */
function checkUses(
  { file, value }: Parsed<RuleFile>,
  { about, facts }: ParsedPack,
  read: ReadonlySet<string>,
  report: ReportFault,
): void {
  if (!about) return;
  const definitions = facts.filter((fact) => read.has(fact.value.id)).map((fact) => fact.value);
  for (const use of DATA_USES) {
    const own = value.uses?.[use];
    const declared = own ?? about.value.uses[use];
    const telling = definitions.filter((fact) => tellsOf(fact, use)).map(({ id }) => id);
    const { number, name } = DATA_USE_ATTRIBUTES[use];
    const path = own ? `uses.${use}` : 'id';
    if (telling.length > 0 && !declared.used)
      report(
        file,
        path,
        `source attribute ${number}, ${name}, declared as used: it reads ${sortedUnique(telling).join(', ')}`,
        'not used',
      );
    if (telling.length === 0 && declared.used)
      report(file, path, `source attribute ${number}, ${name}, declared as not used: it reads none`, 'used');
  }
}

/** What facts that hold such data are called. */
const NAMED: Readonly<Record<DataUse, RegExp>> = {
  race: /\brace\b/,
  ethnicity: /\bethnic/,
  language: /\blanguage\b/,
  'sexual-orientation': /\bsexual\b/,
  'gender-identity': /\bgender\b/,
  sex: /\b(?:sex|female|male|woman|women|man|men)\b/,
  'date-of-birth': /\b(?:age|birth|born|older|younger|elderly)\b/,
  'social-determinants':
    /\b(?:income|housing|homeless\w*|education|insurance|employment|occupation|deprivation|food|transport\w*|living-alone)\b/,
  // A diagnosis of the mind, a graded strength and a clinical sign of function count, so that nobody is told a no in doubt.
  'health-status-assessments':
    /\b(?:score|scale|grade|questionnaire|assessment|frailty|disability|function|cognit\w*|dementia|depression|strength|trendelenburg|pregnan\w*|smok\w*|alcohol)\b/,
};

/** Units that only assessments have. */
const ASSESSED: ReadonlySet<string> = new Set(['{grade}', '{score}']);

/** By name and title, or by the unit of an assessment. */
function tellsOf(fact: FactFile, use: DataUse): boolean {
  // Hyphens are no part of a word, so that each word of an id stands alone.
  if (NAMED[use].test(fact.id) || NAMED[use].test(fact.title.toLowerCase())) return true;
  return (
    use === 'health-status-assessments' &&
    'unit' in fact &&
    fact.unit !== undefined &&
    ASSESSED.has(fact.unit)
  );
}

/** What stands behind a name: a named condition, the inputs of a computation, the facts another is made of. */
type Names = ReadonlyMap<string, unknown>;

function namesOf({ conditions, computations, facts }: ParsedPack): Names {
  return new Map<string, unknown>([
    ...conditions.map(({ value }) => [value.id, value.when] as const),
    ...computations.map(({ value }) => [value.id, value.inputs] as const),
    ...facts.flatMap(({ value }) => ('of' in value ? [[value.id, { fact: value.of }] as const] : [])),
  ]);
}

/**
 * Every fact a rule asks about, shows or misses, through named conditions and computations. What looks at the record as
 * a whole, such as implausible values, reads no fact by name.
 */
function factsRead(rule: RuleFile, names: Names): ReadonlySet<string> {
  const read = new Set<string>();
  const open = [...namedIn(rule, '')];
  for (let name = open.pop(); name !== undefined; name = open.pop()) {
    if (read.has(name)) continue;
    read.add(name);
    open.push(...namedIn(names.get(name), ''));
  }
  return read;
}

/** Members of a rule's file that hold the name of a fact, a computation or a condition. */
const NAMING: ReadonlySet<string> = new Set([
  'fact',
  'unless',
  'unknown',
  'recorded',
  'condition',
  'computation',
  'per',
  'vary',
  'stem',
  'with',
]);

function namedIn(value: unknown, member: string): readonly string[] {
  if (typeof value === 'string')
    return NAMING.has(member) ? [value] : placeholdersOf(value).flatMap((name) => name.split(/[:,.]/));
  if (Array.isArray(value)) return value.flatMap((item: unknown) => namedIn(item, member));
  if (typeof value !== 'object' || value === null) return [];
  return Object.entries(value).flatMap(([inner, item]) => [
    ...(member === 'with' ? [inner] : []),
    ...namedIn(item, member === 'with' && typeof item === 'string' ? 'with' : inner),
  ]);
}

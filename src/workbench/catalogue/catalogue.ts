import { byText, sortedUnique } from '../../base/order.js';
import type { Outcome } from '../../engine/evaluate.js';
import type { Condition, Entry, Rule, Rulebook } from '../../rulebook/types.js';
import { pageParameter } from '../../render/evidence/evidence-page.js';
import type { PageParameter } from '../../render/evidence/evidence-page.js';
import { fullReference } from '../../render/evidence/reference.js';
import type { TrialCase } from '../trial/trial-case.js';
import { withReasons } from './alike.js';
import type { ReviewedPair } from './alike.js';
import { burdenLimits } from './burden-limits.js';
import type { BurdenLimit } from './burden-limits.js';
import type { AlikePair, Burden, RuleBurden } from './burden-schema.js';
import type { OpenQuestions } from './open-questions.js';

/** All rules at a glance, as plain JSON: what each says, on what, held by whom, and what it costs attention. */
export interface Catalogue {
  readonly rulebook: { readonly label: string; readonly date: string; readonly rules: number };
  readonly subjects: readonly { readonly subject: string; readonly rules: readonly CatalogueRow[] }[];
  readonly burden: Burden;
  readonly burdenLimits: readonly BurdenLimit[];
  readonly alike: readonly (AlikePair & { readonly reason?: string })[];
  readonly signOff: readonly {
    readonly parameters: readonly PageParameter[];
    readonly question: string;
    /** Rules that lean on one of them. */
    readonly rules: readonly string[];
  }[];
  readonly conflicts: readonly { readonly says: string; readonly sources: readonly string[] }[];
}

export interface CatalogueRow {
  readonly rule: string;
  readonly version: string;
  readonly title: string;
  readonly says: string;
  readonly indicator: Rule['indicator'];
  readonly entries: readonly Entry[];
  /** Set for a rule without a card of its own. */
  readonly tells?: 'page' | 'line';
  readonly yieldsTo: readonly string[];
  readonly review: string;
  /** The parameters its conditions compare with. */
  readonly limits: readonly PageParameter[];
  readonly sources: readonly { readonly short: string; readonly readAt: string }[];
  readonly basis?: string;
  readonly certainty: readonly string[];
  /** Test patients who get its card. */
  readonly patients: readonly string[];
  readonly edges: Readonly<Record<Outcome, number>>;
  readonly burden: { readonly recordLike: RuleBurden; readonly fullyPlanned: RuleBurden };
}

export interface CatalogueParts {
  readonly rulebook: Rulebook;
  /** The folder of each rule's file, which is its subject. */
  readonly subjects: ReadonlyMap<string, string>;
  /** Test patients and edge cases. */
  readonly cases: readonly TrialCase[];
  readonly burden: Burden;
  readonly reviewed: readonly ReviewedPair[];
  readonly questions: OpenQuestions;
}

export function catalogueOf(parts: CatalogueParts): Catalogue {
  const { rulebook, subjects, burden, reviewed, questions } = parts;
  const { label, date } = rulebook.about;
  return {
    rulebook: { label, date, rules: rulebook.rules.length },
    subjects: sortedUnique([...subjects.values()]).map((subject) => ({
      subject,
      rules: rulebook.rules
        .filter(({ id }) => subjects.get(id) === subject)
        .map((rule) => catalogueRow(rule, parts)),
    })),
    burden,
    burdenLimits: burdenLimits(burden.whole, rulebook),
    alike: withReasons(burden.alike, reviewed),
    signOff: questions.signOff.map(({ parameters, question }) => ({
      parameters: parameters.map((id) => pageParameter(id, rulebook)),
      question,
      rules: rulesLeaningOn(parameters, rulebook),
    })),
    conflicts: questions.conflicts.map(({ says, citations }) => ({
      says,
      sources: citations.map((key) => shortName(key, rulebook)),
    })),
  };
}

function shortName(key: string, rulebook: Rulebook): string {
  return rulebook.citations.get(key)?.short ?? fullReference(key, rulebook);
}

/** Rules that name one of these parameters, or a computation that does. */
function rulesLeaningOn(parameters: readonly string[], { rules, computations }: Rulebook): readonly string[] {
  const names = (file: unknown, ids: readonly string[]): boolean => {
    const text = JSON.stringify(file);
    return ids.some((id) => text.includes(`"${id}"`) || text.includes(`"${id}[`));
  };
  const leaning = [...computations.values()].filter((file) => names(file, parameters)).map(({ id }) => id);
  return rules.filter((rule) => names(rule, [...parameters, ...leaning])).map(({ id }) => id);
}

function catalogueRow(rule: Rule, { rulebook, cases, burden }: CatalogueParts): CatalogueRow {
  const { id, version, title, messages, indicator, entries, tells, yieldsTo = [], review, basis } = rule;
  return {
    rule: id,
    version,
    title,
    says: messages.fires,
    indicator,
    entries,
    ...(tells && { tells }),
    yieldsTo,
    review: review?.state ?? 'draft',
    limits: limitsOf(rule).map((parameter) => pageParameter(parameter, rulebook)),
    sources: sourcesOf(rule, rulebook),
    ...(basis !== undefined && { basis }),
    certainty: certaintyOf(rule),
    patients: patientsOf(id, cases),
    edges: edgesOf(id, cases),
    burden: {
      recordLike: ruleBurden(id, burden.whole.recordLike.rules),
      fullyPlanned: ruleBurden(id, burden.whole.fullyPlanned.rules),
    },
  };
}

function limitsOf({ appliesWhen, when }: Rule): readonly string[] {
  return sortedUnique([appliesWhen, when].flatMap(parametersIn));
}

function parametersIn(condition: Condition): readonly string[] {
  if (condition.kind === 'not') return parametersIn(condition.child);
  if (condition.kind !== 'leaf') return condition.children.flatMap(parametersIn);
  return condition.limit.parameter === undefined ? [] : [condition.limit.parameter];
}

/** Sources of the rule and of its effects, each once. */
function sourcesOf({ citations = [], effects = [] }: Rule, rulebook: Rulebook): CatalogueRow['sources'] {
  const keys = [...citations.map(({ key }) => key), ...effects.flatMap((effect) => effect.citations)];
  return sortedUnique(keys)
    .map((key) => ({
      short: shortName(key, rulebook),
      readAt: rulebook.citations.get(key)?.readAt ?? 'not known',
    }))
    .sort(byText(({ short }) => short));
}

function certaintyOf({ certainty: { mechanism, prognosis, treatment } }: Rule): readonly string[] {
  return [
    ...(mechanism === undefined ? [] : [`mechanism: ${mechanism}`]),
    ...(prognosis === undefined ? [] : [`prognosis: ${prognosis}`]),
    ...(treatment === undefined ? [] : [`treatment: ${treatment}`]),
  ];
}

function patientsOf(rule: string, cases: readonly TrialCase[]): readonly string[] {
  return sortedUnique(
    cases.flatMap(({ name, expects }) =>
      expects.kind === 'cards' && expects.cards.some((card) => card.rule === rule) ? [name] : [],
    ),
  );
}

function edgesOf(rule: string, cases: readonly TrialCase[]): CatalogueRow['edges'] {
  const mine = cases.flatMap(({ expects }) =>
    expects.kind === 'outcome' && expects.rule === rule ? [expects.outcome] : [],
  );
  const count = (outcome: Outcome): number => mine.filter((one) => one === outcome).length;
  return {
    fires: count('fires'),
    'does-not-fire': count('does-not-fire'),
    'cannot-tell': count('cannot-tell'),
    'not-applicable': count('not-applicable'),
  };
}

function ruleBurden(rule: string, rules: readonly RuleBurden[]): RuleBurden {
  return rules.find((one) => one.rule === rule) ?? { rule, fires: 0, cards: 0 };
}

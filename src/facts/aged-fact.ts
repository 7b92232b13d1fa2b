import { formatDate, monthsBefore, readFhirDate } from '../base/dates.js';
import type { Span } from '../base/dates.js';
import { sortedUnique } from '../base/order.js';
import { usableEntries } from './condition-facts.js';
import type { AgedDefinition, ConditionDefinition, FactDefinition, Hip } from './definitions.js';
import { absentFact, unknownFact } from './fact.js';
import type { Fact } from './fact.js';
import type { Body } from './read-record.js';

/** What is needed besides the facts of a hip to tell which of its values are too old. */
export interface AgeContext {
  readonly hip: Hip;
  readonly body: Body;
  readonly definitions: readonly FactDefinition[];
  /** The time of the call, in milliseconds since 1970 UTC. */
  readonly now: number;
}

/** Something that happened since, as it is called and when. */
interface Change {
  readonly title: string;
  readonly span: Span;
}

interface Dated {
  readonly fact: Fact;
  readonly date: string;
  readonly span: Span;
}

/**
 * Values measured longer ago than they can be relied on, or before something that changed them. A value without a date
 * may be one of these.
 */
export function agedFact(
  definition: AgedDefinition,
  facts: ReadonlyMap<string, Fact>,
  context: AgeContext,
): Fact {
  const { id, of, olderThan } = definition;
  const recorded = of.flatMap((one) => facts.get(one) ?? []);
  const measured = recorded.filter(isMeasured);
  const dated = measured.flatMap(datedOf);
  const limit = monthsBefore(context.now, olderThan.months);
  const changes = dated.length > 0 ? changesSince(definition, context) : [];
  const old = dated.flatMap((one) => reasonOf(one, limit, changes));
  if (old.length > 0) return presentFact(id, old, context);
  const needs = [
    ...measured.filter((fact) => datedOf(fact).length === 0),
    ...dated.filter((one) => mayBeOld(one, limit)).map(({ fact }) => fact),
  ].map((fact) => fact.id);
  if (needs.length > 0)
    return {
      ...unknownFact(id, 'input-missing'),
      state: { status: 'unknown', reason: 'input-missing', needs },
    };
  const setsMissing = sortedUnique(recorded.flatMap((fact) => fact.setsMissing ?? []));
  return setsMissing.length > 0 ? unknownFact(id, 'set-not-read', { setsMissing }) : absentFact(id);
}

/** A plan is no measurement: it does not age. */
function isMeasured({ state, stage }: Fact): boolean {
  return state.status === 'present' && stage !== 'planned';
}

function datedOf(fact: Fact): readonly Dated[] {
  const { date } = fact.provenance;
  const span = readFhirDate(date);
  return date !== undefined && span ? [{ fact, date, span }] : [];
}

interface Old extends Dated {
  readonly before?: Change;
}

/** A change is the better reason: it says what is different now. */
function reasonOf(dated: Dated, limit: number, changes: readonly Change[]): readonly Old[] {
  const before = changes.find(({ span }) => dated.span.to < span.from);
  if (before) return [{ ...dated, before }];
  return dated.span.to < limit ? [dated] : [];
}

/** Only a month or a year is stated, and the limit lies within it: one day more or less is no matter. */
function mayBeOld({ date, span }: Dated, limit: number): boolean {
  return date.length < DAY_LENGTH && span.from < limit;
}

const DAY_LENGTH = 'yyyy-mm-dd'.length;

function changesSince(
  { changedBy }: AgedDefinition,
  { hip, body, definitions }: AgeContext,
): readonly Change[] {
  return changedBy.flatMap((one): readonly Change[] => {
    if ('replacement' in one) {
      const { arthroplasties, otherReplacements } = body.history;
      return [...arthroplasties, ...otherReplacements].flatMap(({ span }) =>
        span ? [{ title: one.replacement, span }] : [],
      );
    }
    const condition = definitions.find(
      (definition): definition is ConditionDefinition =>
        definition.kind === 'condition' && definition.id === one.condition,
    );
    if (!condition) return [];
    return usableEntries(condition, hip, body.diagnoses).flatMap(({ date }) => {
      const span = readFhirDate(date);
      return span ? [{ title: condition.title, span }] : [];
    });
  });
}

function presentFact(id: string, old: readonly Old[], { definitions }: AgeContext): Fact {
  const titles = new Map(definitions.map((definition) => [definition.id, definition.title]));
  const byDay = new Map<string, string[]>();
  for (const one of old) {
    const day = dayOf(one);
    byDay.set(day, [...(byDay.get(day) ?? []), valueOf(one.fact, titles.get(one.fact.id) ?? one.fact.id)]);
  }
  const oldest = [...old].sort((a, b) => a.span.from - b.span.from)[0];
  return {
    id,
    state: {
      status: 'present',
      value: { kind: 'recorded', texts: [...byDay].map(([day, values]) => `${day}: ${shortList(values)}`) },
    },
    provenance: {
      from: sortedUnique(old.flatMap(({ fact }) => fact.provenance.from)),
      ...(oldest && { date: oldest.date }),
    },
    remarks: [],
  };
}

function dayOf({ date, before }: Old): string {
  return before ? `${formatDate(date)}, before ${before.title}` : formatDate(date);
}

function valueOf({ provenance: { asFound } }: Fact, title: string): string {
  if (!asFound) return title;
  return [title, asFound.value, ...(asFound.unit === undefined ? [] : [asFound.unit])].join(' ');
}

/** Measured on one day, they are measured again on one: the first is named, and the evaluation holds the rest. */
function shortList([first = '', ...others]: readonly string[]): string {
  return others.length > 0 ? `${first} and ${others.length} more` : first;
}

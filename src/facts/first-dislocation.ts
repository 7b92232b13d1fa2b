import { readFhirDate } from '../base/dates.js';
import { sortedUnique } from '../base/order.js';
import { yearsBetween } from '../base/years-between.js';
import { usableEntries } from './condition-facts.js';
import type { ConditionDefinition, FactDefinition, FirstDislocationDefinition, Hip } from './definitions.js';
import { unknownFact } from './fact.js';
import type { Fact } from './fact.js';
import type { SideReading } from './laterality.js';
import type { Body } from './read-record.js';

interface Happening {
  readonly name: string;
  readonly date?: string | undefined;
}

/**
 * Years from the first total replacement of a hip on record to its first dislocation on record. A dislocation without a
 * date may have been any time before the first dated one, and a date of a month or year leaves its days open: then it is
 * known between bounds. What is dated before the replacement was of another joint.
 */
export function firstDislocationFact(
  { id, of, unit }: FirstDislocationDefinition,
  {
    hip,
    body,
    definitions,
  }: {
    readonly hip: Hip;
    readonly body: Body;
    readonly definitions: readonly FactDefinition[];
  },
): Fact {
  const setsMissing = body.setsMissing.filter((key) => key === 'procedures' || key === 'conditions');
  if (setsMissing.length > 0) return unknownFact(id, 'set-not-read', { unit, setsMissing });
  if (hip === 'unknown') return unknownFact(id, 'side-unknown', { unit });
  const isHere = ({ side }: { readonly side: SideReading }): boolean =>
    side.kind === 'sides' && side.sides.includes(hip);
  const replaced = body.history.arthroplasties.filter(isHere);
  const start = earliest(replaced);
  const from = sortedUnique(replaced.map(({ name }) => name));
  if (start === undefined || replaced.some(({ date }) => date === undefined))
    return unknownFact(id, 'input-missing', { unit, provenance: { from } });
  const conditions = definitions.filter(
    (one): one is ConditionDefinition => one.kind === 'condition' && of.includes(one.id),
  );
  const diagnosed = conditions.flatMap((one) => usableEntries(one, hip, body.diagnoses));
  const all: readonly Happening[] = [
    ...body.history.closedReductions.filter((one) => one.joint === 'prosthesis' && isHere(one)),
    ...diagnosed.map((one) => ({ name: one.from, date: one.date })),
  ].filter(({ date }) => date === undefined || yearsBetween(start, date).high >= 0);
  const first = earliest(all);
  if (first === undefined) return unknownFact(id, 'not-recorded', { unit, provenance: { from } });
  const years = yearsBetween(start, first);
  const isOpen = all.some(({ date }) => date === undefined);
  const interval = { low: isOpen ? 0 : Math.max(0, years.low), high: Math.max(0, years.high) };
  return {
    id,
    state: { status: 'present', value: { kind: 'quantity', interval } },
    unit,
    error: 0,
    provenance: { from: sortedUnique([...from, ...all.map(({ name }) => name)]), date: first },
    remarks: [],
  };
}

function earliest(all: readonly { readonly date?: string | undefined }[]): string | undefined {
  const dated = all.flatMap(({ date }) => {
    const span = readFhirDate(date);
    return date !== undefined && span ? [{ date, span }] : [];
  });
  return dated.sort((a, b) => a.span.from - b.span.from || b.date.length - a.date.length)[0]?.date;
}

import { exactly } from '../base/interval.js';
import type { Interval } from '../base/interval.js';
import { sortedUnique } from '../base/order.js';
import type { EpisodesDefinition, Hip, Side } from './definitions.js';
import { unknownFact } from './fact.js';
import type { Fact } from './fact.js';
import type { ClosedReduction, PastArthroplasty } from './procedure-history.js';
import type { Body } from './read-record.js';

/** How often something was done to this hip; nothing done is 0, and a list not read leaves it unknown. */
export function episodesFact(definition: EpisodesDefinition, hip: Hip, body: Body): Fact {
  const { id, unit, of } = definition;
  const setsMissing = body.setsMissing.filter((key) => key === 'procedures');
  if (setsMissing.length > 0) return unknownFact(id, 'set-not-read', { unit, setsMissing });
  if (hip === 'unknown') return unknownFact(id, 'side-unknown', { unit });
  const { done, interval } = of === 'revisions' ? revisions(hip, body) : closedReductions(hip, body);
  const [first] = done;
  const dates = sortedUnique(done.flatMap(({ date }) => date ?? []));
  return {
    id,
    state: { status: 'present', value: { kind: 'quantity', interval } },
    unit,
    error: 0,
    provenance: {
      from: sortedUnique(done.map(({ name }) => name)),
      ...(first?.date !== undefined && { date: first.date }),
      ...(dates.length > 1 && { lastDate: dates.at(-1) ?? '' }),
    },
    remarks: [],
  };
}

interface Counted {
  readonly done: readonly Pick<ClosedReduction, 'name' | 'date'>[];
  readonly interval: Interval;
}

/**
 * Dated closed reductions of this hip's prosthesis, at most one a day: a diagnosis code counts visits and includes
 * subluxation, a reduction is an episode. Those without a date or side are not counted.
 */
function closedReductions(hip: Side, body: Body): Counted {
  const done = body.history.closedReductions.filter(
    ({ joint, side, span }) =>
      joint === 'prosthesis' && span !== undefined && side.kind === 'sides' && side.sides.includes(hip),
  );
  return { done, interval: exactly(done.length) };
}

/**
 * Revisions of this hip. One without a date, or with a rough one, may be told a second time elsewhere, and one without a
 * side may be the other hip's: they leave the count open between those that are sure and all of them.
 */
function revisions(hip: Side, body: Body): Counted {
  const may = body.history.arthroplasties.filter(
    ({ kind, side }) => kind === 'revision' && (side.kind !== 'sides' || side.sides.includes(hip)),
  );
  const here = may.filter(({ side }) => side.kind === 'sides');
  return { done: may, interval: { low: Math.max(apart(here), Math.min(here.length, 1)), high: may.length } };
}

/** How many of these lie apart in time, whatever the day of each. */
function apart(done: readonly PastArthroplasty[]): number {
  const spans = done.flatMap(({ span }) => span ?? []).sort((a, b) => a.to - b.to);
  let count = 0;
  let end = -Infinity;
  for (const { from, to } of spans)
    if (from > end) {
      count++;
      end = to;
    }
  return count;
}

import { exactly } from '../base/interval.js';
import { sortedUnique } from '../base/order.js';
import type { EpisodesDefinition, Hip } from './definitions.js';
import { unknownFact } from './fact.js';
import type { Fact } from './fact.js';
import type { Body } from './read-record.js';

/**
 * Dated closed reductions of this hip's prosthesis, at most one a day: a diagnosis code counts visits and includes
 * subluxation, a reduction is an episode. Those without a date or side are not counted.
 */
export function episodesFact(definition: EpisodesDefinition, hip: Hip, body: Body): Fact {
  const { id, unit } = definition;
  const setsMissing = body.setsMissing.filter((key) => key === 'procedures');
  if (setsMissing.length > 0) return unknownFact(id, 'set-not-read', { unit, setsMissing });
  if (hip === 'unknown') return unknownFact(id, 'side-unknown', { unit });
  const mine = body.history.closedReductions.filter(
    ({ joint, side, span }) =>
      joint === 'prosthesis' && span !== undefined && side.kind === 'sides' && side.sides.includes(hip),
  );
  const [first] = mine;
  return {
    id,
    state: { status: 'present', value: { kind: 'quantity', interval: exactly(mine.length) } },
    unit,
    error: 0,
    provenance: {
      from: sortedUnique(mine.map(({ name }) => name)),
      ...(first?.date !== undefined && { date: first.date }),
    },
    remarks: [],
  };
}

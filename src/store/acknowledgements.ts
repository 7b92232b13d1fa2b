import type { Kysely } from 'kysely';
import { sortedUnique } from '../base/order.js';
import type { Tables } from './tables.js';

/**
 * What a patient's surgeons have answered. An answer counts for a card of its own client and service only; and not for
 * a card id that was given out for two patients or with two hashes, since nobody knows which of them was answered.
 */
export async function acknowledgedBy(db: Kysely<Tables>, patient: string): Promise<readonly string[]> {
  const rows = await db
    .selectFrom('cards')
    .innerJoin('decisions', 'decisions.id', 'cards.decision')
    .select('cards.acknowledgement')
    .distinct()
    .where('decisions.patient', '=', patient)
    .where('cards.acknowledgement', 'is not', null)
    .where((eb) =>
      eb.exists(
        eb
          .selectFrom('feedback')
          .select('feedback.digest')
          .whereRef('feedback.card', '=', 'cards.uuid')
          .whereRef('feedback.iss', '=', 'decisions.iss')
          .whereRef('feedback.service', '=', 'decisions.service'),
      ),
    )
    .where((eb) =>
      eb.not(
        eb.exists(
          eb
            .selectFrom('cards as others')
            .innerJoin('decisions as theirs', 'theirs.id', 'others.decision')
            .select('others.uuid')
            .whereRef('others.uuid', '=', 'cards.uuid')
            .where((inner) =>
              inner.or([
                inner('theirs.patient', '!=', patient),
                inner('others.acknowledgement', 'is', null),
                inner('others.acknowledgement', '!=', inner.ref('cards.acknowledgement')),
              ]),
            ),
        ),
      ),
    )
    .execute();
  return sortedUnique(rows.flatMap(({ acknowledgement }) => acknowledgement ?? []));
}

import type { Kysely } from 'kysely';
import { byText } from '../base/order.js';
import type { RuleCounts, UnmappedCoding } from './store.js';
import type { Tables } from './tables.js';

export async function countsByRule(db: Kysely<Tables>): Promise<readonly RuleCounts[]> {
  const firings = new Map((await firingCounts(db)).map((row) => [row.rule, row]));
  const cards = new Map((await cardCounts(db)).map((row) => [row.rule, row]));
  const rules = [...new Set([...firings.keys(), ...cards.keys()])];
  return rules.sort(byText((rule) => rule)).map((rule) => {
    const { fired = 0, seen = 0 } = firings.get(rule) ?? {};
    const { shown = 0, answered = 0, accepted = 0, overridden = 0 } = cards.get(rule) ?? {};
    const silent = shown - answered;
    return { rule, fired, notShown: fired - seen, shown, answered, silent, accepted, overridden };
  });
}

/** A finding counts once for a call, hip and construct, and as seen when it was shown at least once. */
async function firingCounts(
  db: Kysely<Tables>,
): Promise<readonly { readonly rule: string; readonly fired: number; readonly seen: number }[]> {
  const rows = await db
    .selectFrom((from) =>
      from
        .selectFrom('firings')
        .innerJoin('decisions', 'decisions.id', 'firings.decision')
        .select(({ fn }) => ['firings.rule', fn.max('firings.shown').as('shown')])
        .groupBy(['firings.rule', 'decisions.key', 'firings.hip', 'firings.construct'])
        .as('findings'),
    )
    .select(({ fn }) => ['findings.rule', fn.countAll().as('fired'), fn.sum('findings.shown').as('seen')])
    .groupBy('findings.rule')
    .execute();
  return rows.map(({ rule, fired, seen }) => ({ rule, fired: Number(fired), seen: Number(seen) }));
}

type CardCounts = Pick<RuleCounts, 'rule' | 'shown' | 'answered' | 'accepted' | 'overridden'>;

/** A card counts once for its id, and its answers only when they came from its own client and service. */
async function cardCounts(db: Kysely<Tables>): Promise<readonly CardCounts[]> {
  const rows = await db
    .selectFrom((from) =>
      from
        .selectFrom('cards')
        .innerJoin('decisions', 'decisions.id', 'cards.decision')
        .leftJoin('feedback', (join) =>
          join
            .onRef('feedback.card', '=', 'cards.uuid')
            .onRef('feedback.iss', '=', 'decisions.iss')
            .onRef('feedback.service', '=', 'decisions.service'),
        )
        .select((eb) => {
          const atLeastOnce = (outcome: string) =>
            eb.fn.max(eb.case().when('feedback.outcome', '=', outcome).then(eb.lit(1)).else(eb.lit(0)).end());
          return [
            'cards.rule',
            atLeastOnce('accepted').as('accepted'),
            atLeastOnce('overridden').as('overridden'),
            eb.fn
              .max(eb.case().when('feedback.digest', 'is not', null).then(eb.lit(1)).else(eb.lit(0)).end())
              .as('answered'),
          ];
        })
        .groupBy(['cards.rule', 'cards.uuid'])
        .as('given'),
    )
    .select(({ fn }) => [
      'given.rule',
      fn.countAll().as('shown'),
      fn.sum('given.answered').as('answered'),
      fn.sum('given.accepted').as('accepted'),
      fn.sum('given.overridden').as('overridden'),
    ])
    .groupBy('given.rule')
    .execute();
  return rows.map(({ rule, ...counts }) => ({
    rule,
    shown: Number(counts.shown),
    answered: Number(counts.answered),
    accepted: Number(counts.accepted),
    overridden: Number(counts.overridden),
  }));
}

export async function unmappedTotals(db: Kysely<Tables>): Promise<readonly UnmappedCoding[]> {
  const rows = await db
    .selectFrom('unmapped')
    .select(({ fn }) => ['resource_type', 'element', 'system', 'code', fn.sum('count').as('count')])
    .groupBy(['resource_type', 'element', 'system', 'code'])
    .execute();
  const totals = rows.map(({ resource_type: resourceType, element, system, code, count }) => ({
    resourceType,
    element,
    ...(system !== null && { system }),
    code,
    count: Number(count),
  }));
  const place = ({ resourceType, element, system = '', code }: UnmappedCoding): string =>
    JSON.stringify([resourceType, element, system, code]);
  return totals.sort(byText(place));
}

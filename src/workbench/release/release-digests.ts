import { canonicalJson } from '../../base/canonical-json.js';
import { contentHash } from '../../base/hash.js';
import { sortedUnique } from '../../base/order.js';
import { runCase } from '../trial/run-case.js';
import type { TrialSetting } from '../trial/run-case.js';
import type { TrialCase } from '../trial/trial-case.js';

/** What one fixture was asked, and what one rulebook told of it, each as a hash. */
export interface FixtureDigest {
  /** A test patient, or the file of a rule's edge cases. */
  readonly fixture: string;
  readonly calls: number;
  readonly asked: string;
  readonly told: string;
}

/** What a released rulebook told of every fixture, by one engine. */
export interface ReleaseDigests {
  readonly rulebook: string;
  readonly hash: string;
  readonly engine: string;
  readonly fixtures: readonly FixtureDigest[];
}

/**
 * Asks about every fixture and hashes what is told: the whole evaluation, cards shown, cards kept back and what only the
 * page tells. Same rulebook, fixtures and engine, same digests, on any machine.
 */
export async function releaseDigests(
  cases: readonly TrialCase[],
  setting: TrialSetting,
): Promise<ReleaseDigests> {
  const { rulebook } = setting.advisor;
  const byFixture = new Map<string, TrialCase[]>();
  for (const one of cases) {
    const fixture = fixtureOf(one);
    byFixture.set(fixture, [...(byFixture.get(fixture) ?? []), one]);
  }
  const fixtures: FixtureDigest[] = [];
  for (const fixture of sortedUnique([...byFixture.keys()]))
    fixtures.push(await digestOf(fixture, byFixture.get(fixture) ?? [], setting));
  return { rulebook: rulebook.about.version, hash: rulebook.hash, engine: setting.engine, fixtures };
}

/** The fixture a case belongs to; an edge case is called by its file and place in it: `edges/<rule> 1.3`. */
export function fixtureOf({ name }: Pick<TrialCase, 'name'>): string {
  return name.split(' ')[0] ?? name;
}

async function digestOf(
  fixture: string,
  cases: readonly TrialCase[],
  setting: TrialSetting,
): Promise<FixtureDigest> {
  const told: string[] = [];
  for (const one of cases) {
    const { answer, why } = await runCase(one, setting);
    told.push(
      canonicalJson(
        answer
          ? {
              evaluation: answer.evaluation?.(),
              cards: answer.cards,
              kept: answer.kept.map(({ card, why: reason }) => [card.card, reason]),
              page: answer.pageOnly?.().cards.map(({ card }) => card) ?? [],
            }
          : { why: why ?? 'no answer' },
      ),
    );
  }
  const asked = cases.map(({ bundle, hook, now, unread = [] }) => ({ bundle, hook, now, unread }));
  return { fixture, calls: cases.length, asked: contentHash(asked), told: contentHash(told) };
}

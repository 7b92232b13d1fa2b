import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Difference } from '../../src/store/difference.js';
import type { FeedbackItem, Store } from '../../src/store/store.js';
import { answer, card, collected, decision, outcome, STEEP, uuid, without } from './records.js';

/** What every store does, whatever the database below it. `open` gives an empty one. */
export function describeStore(name: string, open: () => Promise<Store>): void {
  describe(`the store in ${name}`, () => {
    let store: Store;
    beforeEach(async () => {
      store = await open();
    });
    afterEach(() => store.close());
    const current = (): Store => store;

    describeDecisions(current);
    describeFeedback(current);
    describeAcknowledgements(current);
    describeCounts(current);
    describeTokens(current);
    describeDifferences(current);
    describeReading(current);
    describeWaiting(current);
  });
}

function describeDecisions(store: () => Store): void {
  it('gives a decision back as it was saved, with and without the members that may be missing', async () => {
    const bare = decision(2, { cards: [], outcomes: [], sets: [], inputs: [], unmapped: [], leniencies: [] });
    const withoutSite = without(bare, 'site');
    await store().saveDecision(decision(1));
    await store().saveDecision(withoutSite);
    // Truth: closed form.
    expect(await store().decision(uuid(1))).toEqual(decision(1));
    expect(await store().decision(uuid(2))).toEqual(withoutSite);
    expect(await store().decision(uuid(3))).toBeUndefined();
  });

  it('keeps a decision once, however often and however close together it is saved', async () => {
    await Promise.all([1, 1, 2, 1].map((id) => store().saveDecision(decision(id))));
    await store().saveDecision(decision(1));
    // Integration decisions section 3: one idempotence key, one record.
    expect((await store().countsByRule()).map(({ fired, shown }) => [fired, shown])).toEqual([[2, 2]]);
  });

  it('refuses the id of one call for another, rather than dropping the second without a word', async () => {
    await store().saveDecision(decision(1));
    const other = decision(1, { hookInstance: uuid(77) });
    await expect(store().saveDecision(other)).rejects.toThrow(uuid(1));
    expect(await store().decision(uuid(1))).toEqual(decision(1));
  });

  it('keeps a record that is larger than one statement may carry', async () => {
    const outcomes = Array.from({ length: 701 }, (_, index) => outcome({ rule: `rule-${index}` }));
    await store().saveDecision(decision(1, { outcomes, cards: [] }));
    expect(await store().countsByRule()).toHaveLength(701);
  });
}

function describeFeedback(store: () => Store): void {
  const full: FeedbackItem = answer(1, {
    outcome: 'accepted',
    acceptedSuggestions: [uuid(11), uuid(12)],
    reason: { system: 'https://kotyle.example/fhir/CodeSystem/override', code: 'seen' },
    comment: 'Discussed with the family – 45° it is.',
  });

  it('gives an answer back as it was saved, with and without the members that may be missing', async () => {
    await store().saveFeedback([full, answer(2), answer(3, { reason: { code: 'seen' } })]);
    // Truth: closed form. Row B5: reason, comment, both or neither.
    expect(await store().answersTo(uuid(1))).toEqual([full]);
    expect(await store().answersTo(uuid(2))).toEqual([answer(2)]);
    expect(await store().answersTo(uuid(3))).toEqual([answer(3, { reason: { code: 'seen' } })]);
    expect(await store().answersTo(uuid(4))).toEqual([]);
  });

  it('keeps an answer once when it is sent again, later or with its suggestions in another order', async () => {
    const later = { ...full, receivedAt: '2026-11-25T00:00:00.000Z' };
    const turned = { ...full, acceptedSuggestions: [uuid(12), uuid(11), uuid(12)] };
    await store().saveFeedback([full, full]);
    await store().saveFeedback([later, turned]);
    // Integration decisions section 3: duplicate feedback is stored once.
    expect(await store().answersTo(uuid(1))).toEqual([full]);
  });

  it('keeps answers apart that differ in any member but the time of receipt', async () => {
    const different: readonly FeedbackItem[] = [
      full,
      { ...full, outcome: 'overridden' },
      { ...full, at: '2026-11-24T10:05:00.001Z' },
      { ...full, acceptedSuggestions: [uuid(11)] },
      { ...full, reason: { system: 'https://kotyle.example/other', code: 'seen' } },
      { ...full, reason: { code: 'seen' } },
      { ...full, comment: 'Another.' },
      { ...full, service: 'hip-stability-booking' },
      { ...full, iss: 'https://ehr.example' },
      without(full, 'comment'),
      without(full, 'reason'),
    ];
    await store().saveFeedback(different);
    // Row B2: repeats for one card are legal.
    expect(await store().answersTo(uuid(1))).toHaveLength(different.length);
  });

  it('lists the answers to one card from the oldest to the newest', async () => {
    const times = ['2026-11-24T10:05:02.000Z', '2026-11-24T10:05:00.000Z', '2026-11-24T10:05:01.000Z'];
    await store().saveFeedback(times.map((at) => answer(1, { at })));
    expect((await store().answersTo(uuid(1))).map(({ at }) => at)).toEqual([...times].sort());
  });

  it('has nothing to do for no answers', async () => {
    await expect(store().saveFeedback([])).resolves.toBeUndefined();
  });
}

function describeAcknowledgements(store: () => Store): void {
  // Clinical decisions section 1, "Acknowledged stays quiet".
  it('names the hashes of cards accepted or overridden, sorted, once each, and of no card left unanswered', async () => {
    const cards = [card(3), card(1), card(2), card(4, { acknowledgement: 'sha256-facts-1' })];
    await store().saveDecision(decision(1, { cards }));
    expect(await store().acknowledgedBy('patient-pseudonym')).toEqual([]);
    const accepted = answer(1, { outcome: 'accepted', acceptedSuggestions: [uuid(11)] });
    await store().saveFeedback([answer(3), accepted, answer(3, { outcome: 'accepted' }), answer(4)]);
    expect(await store().acknowledgedBy('patient-pseudonym')).toEqual(['sha256-facts-1', 'sha256-facts-3']);
  });

  it('names them also when the answer was kept before the decision', async () => {
    await store().saveFeedback([answer(1)]);
    await store().saveDecision(decision(1));
    expect(await store().acknowledgedBy('patient-pseudonym')).toEqual(['sha256-facts-1']);
  });

  it('keeps nothing quiet for another patient, not even the same finding', async () => {
    const theirs = { patient: 'other', cards: [card(2, { acknowledgement: 'sha256-facts-1' })] };
    await store().saveDecision(decision(1));
    await store().saveDecision(decision(2, theirs));
    await store().saveFeedback([answer(1)]);
    expect(await store().acknowledgedBy('other')).toEqual([]);
    expect(await store().acknowledgedBy('patient-pseudonym')).toEqual(['sha256-facts-1']);
  });

  it('keeps a card that always repeats out of it', async () => {
    const repeating = without(card(1, { rule: 'hip-side-conflict' }), 'acknowledgement');
    await store().saveDecision(decision(1, { cards: [repeating] }));
    await store().saveFeedback([answer(1)]);
    // Clinical decisions section 1: side conflicts always repeat.
    expect(await store().acknowledgedBy('patient-pseudonym')).toEqual([]);
  });

  it('does not take an answer for another service or from another client as one to this card', async () => {
    await store().saveDecision(decision(1));
    await store().saveFeedback([
      answer(1, { service: 'hip-stability-booking' }),
      answer(1, { iss: 'https://other.example' }),
    ]);
    expect(await store().acknowledgedBy('patient-pseudonym')).toEqual([]);
    expect((await store().countsByRule())[0]).toMatchObject({ shown: 1, answered: 0, silent: 1 });
  });

  const again = { hookInstance: uuid(500) };
  it('takes an answer to a repeated call, when both gave the same card', async () => {
    await store().saveDecision(decision(1, { ...again, cards: [card(1)] }));
    await store().saveDecision(decision(2, { ...again, cards: [card(1)] }));
    await store().saveFeedback([answer(1)]);
    expect(await store().acknowledgedBy('patient-pseudonym')).toEqual(['sha256-facts-1']);
  });

  it('keeps nothing quiet when one card id was given out with two hashes or for two patients', async () => {
    const changed = card(1, { acknowledgement: 'sha256-newer-facts' });
    await store().saveDecision(decision(1, { ...again, cards: [card(1), card(3)] }));
    await store().saveDecision(decision(2, { ...again, cards: [changed] }));
    await store().saveDecision(decision(3, { ...again, patient: 'other', cards: [card(3)] }));
    await store().saveFeedback([answer(1), answer(3)]);
    // Nobody knows which was answered; repeating a card is the safer error.
    expect(await store().acknowledgedBy('patient-pseudonym')).toEqual([]);
    expect(await store().acknowledgedBy('other')).toEqual([]);
  });
}

function describeCounts(store: () => Store): void {
  it('counts per rule what fired and was kept back, what was shown, answered and left without an answer', async () => {
    const silenced = outcome({ shown: false });
    await store().saveDecision(decision(1));
    await store().saveDecision(decision(2));
    await store().saveDecision(decision(3));
    await store().saveDecision(decision(4, { outcomes: [silenced], cards: [] }));
    await store().saveDecision(decision(5, { outcomes: [outcome({ outcome: 'cannot-tell' })], cards: [] }));
    await store().saveFeedback([
      answer(1),
      answer(1, { at: '2026-11-24T11:00:00.000Z' }),
      answer(2, { outcome: 'accepted', acceptedSuggestions: [uuid(11)] }),
      answer(99),
    ]);
    // Integration decisions section 3: three denominators. Row B6: absence of feedback is not acceptance.
    expect(await store().countsByRule()).toEqual([
      {
        rule: STEEP,
        fired: 4,
        notShown: 1,
        shown: 3,
        answered: 2,
        silent: 1,
        accepted: 1,
        overridden: 1,
      },
    ]);
  });

  it('counts a call once that was repeated, and each hip and construct by itself', async () => {
    const call = { hookInstance: uuid(500) };
    const hips = [outcome({ shown: false }), outcome({ hip: 'right' })];
    const right = card(9, { hip: 'right' });
    await store().saveDecision(decision(1, { ...call, outcomes: hips, cards: [right] }));
    await store().saveDecision(decision(2, { ...call, outcomes: hips, cards: [right] }));
    await store().saveFeedback([answer(9)]);
    expect(await store().countsByRule()).toEqual([
      expect.objectContaining({ fired: 2, notShown: 1, shown: 1, answered: 1, silent: 0, overridden: 1 }),
    ]);
  });

  it('counts a card answered both ways in both, and still as one card answered', async () => {
    await store().saveDecision(decision(1));
    await store().saveFeedback([answer(1), answer(1, { outcome: 'accepted' })]);
    expect((await store().countsByRule())[0]).toMatchObject({ answered: 1, accepted: 1, overridden: 1 });
  });

  it('lists rules by id, also those of cards that no rule made', async () => {
    const cards = [card(1), card(2, { rule: 'data-gap' })];
    const outcomes = [outcome(), outcome({ rule: 'zone', shown: false }), outcome({ rule: 'Abductor' })];
    await store().saveDecision(decision(1, { cards, outcomes }));
    // Code units, as everywhere: capitals first.
    expect((await store().countsByRule()).map(({ rule, fired, shown }) => [rule, fired, shown])).toEqual([
      ['Abductor', 1, 0],
      [STEEP, 1, 1],
      ['data-gap', 0, 1],
      ['zone', 1, 0],
    ]);
  });

  it('adds up codings nothing knows by resource type, element, system and code', async () => {
    const coding = { resourceType: 'ServiceRequest', element: 'code', system: 'urn:local', code: 'THR' };
    const withoutSystem = without(coding, 'system');
    await store().saveDecision(decision(1, { unmapped: [{ ...coding, count: 2 }] }));
    await store().saveDecision(
      decision(2, {
        unmapped: [
          { ...coding, count: 3 },
          { ...withoutSystem, count: 1 },
          { ...coding, element: 'bodySite', count: 7 },
        ],
      }),
    );
    // Truth: closed form; integration decisions section 4, local codes.
    expect(await store().unmappedTotals()).toEqual([
      { ...coding, element: 'bodySite', count: 7 },
      { ...withoutSystem, count: 1 },
      { ...coding, count: 5 },
    ]);
  });
}

function describeTokens(store: () => Store): void {
  const until = Date.parse('2026-11-24T10:05:00Z');

  it('knows a token that was used before, of the same client only', async () => {
    // Row S12: jti is used at most once.
    expect(await store().rememberToken('https://ehr.example', 'a', until)).toBe(true);
    expect(await store().rememberToken('https://ehr.example', 'a', until)).toBe(false);
    expect(await store().rememberToken('https://ehr.example', 'b', until)).toBe(true);
    expect(await store().rememberToken('https://other.example', 'a', until)).toBe(true);
    const odd = '\u0000'.repeat(20_000);
    expect(await store().rememberToken('https://ehr.example', odd, until)).toBe(true);
    expect(await store().rememberToken('https://ehr.example', odd, until)).toBe(false);
  });

  it('takes a token once that comes many times at the same moment', async () => {
    const uses = Array.from({ length: 50 }, () => store().rememberToken('https://ehr.example', 'a', until));
    expect((await Promise.all(uses)).filter(Boolean)).toHaveLength(1);
  });

  it('forgets a token that has ended', async () => {
    await store().rememberToken('https://ehr.example', 'a', until);
    expect(await store().prune(new Date(until))).toMatchObject({ tokens: 0 });
    expect(await store().prune(new Date(until + 1))).toMatchObject({ tokens: 1 });
    expect(await store().rememberToken('https://ehr.example', 'a', until)).toBe(true);
  });
}

function describeDifferences(store: () => Store): void {
  it('gives differences of a candidate back as they were kept, by their times, each once', async () => {
    const base = { decision: uuid(1), at: '2026-11-24T10:00:01.000Z', candidateHash: 'sha256-candidate' };
    const full: Difference = {
      ...base,
      kind: 'outcome',
      hip: 'left',
      construct: 'planned',
      rule: STEEP,
      was: 'fires',
      would: 'does-not-fire',
    };
    const bare: Difference = { ...base, at: '2026-11-24T10:00:00.000Z', kind: 'timeout' };
    await Promise.all([full, bare, full].map((each) => store().saveDifference(each)));
    await store().saveDifference(full);
    // Truth: closed form.
    expect(await collected(store().differences())).toEqual([bare, full]);
  });
}

function describeReading(store: () => Store): void {
  const at = (number: number): string => new Date(Date.UTC(2026, 10, 24) + number * 1000).toISOString();

  it('reads decisions in the order of their times, between two times and of one client', async () => {
    const times = Array.from({ length: 450 }, (_, index) => (index * 7) % 450);
    await Promise.all(
      times.map((number) =>
        // Some at the same time, so that pages end between them.
        store().saveDecision(decision(number, { at: at(Math.floor(number / 3)), cards: [] })),
      ),
    );
    await store().saveDecision(decision(1000, { at: at(5), iss: 'https://ehr.example', cards: [] }));
    const all = await collected(store().decisions());
    expect(all).toHaveLength(451);
    expect(new Set(all.map(({ id }) => id)).size).toBe(451);
    expect(all.map((each) => each.at)).toEqual(all.map((each) => each.at).sort());
    const some = await collected(store().decisions({ from: at(2), to: at(4) }));
    expect(some.map(({ id }) => id)).toEqual([6, 7, 8, 9, 10, 11].map(uuid));
    const theirs = await collected(store().decisions({ iss: 'https://ehr.example' }));
    expect(theirs.map(({ id }) => id)).toEqual([uuid(1000)]);
  });

  it('reads answers with the card they were an answer to, where it is kept', async () => {
    await store().saveDecision(decision(1));
    const commented = answer(1, { comment: 'a comment', receivedAt: at(1) });
    const unknown = answer(2, { receivedAt: at(2) });
    const foreign = answer(1, { iss: 'https://other.example', receivedAt: at(3) });
    await store().saveFeedback([foreign, unknown, commented]);
    const shown = {
      decision: uuid(1),
      rule: STEEP,
      ruleVersion: '1.0.0',
      indicator: 'info',
      hook: 'order-sign',
      user: 'user-pseudonym',
    };
    expect(await collected(store().answers())).toEqual([{ ...commented, shown }, unknown, foreign]);
    expect(await collected(store().answers({ from: at(2), to: at(3) }))).toEqual([unknown]);
  });

  it('answers when it is asked whether it takes writes, and leaves nothing behind', async () => {
    await store().ping();
    await store().ping();
    expect(await store().prune(new Date('2126-01-01T00:00:00Z'))).toMatchObject({ tokens: 0 });
  });
}

function describeWaiting(store: () => Store): void {
  it('rejects only what cannot be kept, and keeps everything committed with it', async () => {
    await store().saveDecision(decision(1));
    const twice = outcome();
    const results = await Promise.allSettled([
      store().saveDecision(decision(2)),
      store().saveDecision(decision(1, { hookInstance: uuid(77) })),
      // Half of it is written before the other half fails.
      store().saveDecision(decision(3, { outcomes: [twice, twice] })),
      store().saveFeedback([answer(1), answer(2, { outcome: 'ignored' as FeedbackItem['outcome'] })]),
      store().saveDecision(decision(4)),
      store().saveFeedback([answer(4)]),
    ]);
    // Dependencies, group commit: a failing item rejects itself, never others.
    expect(results.map(({ status }) => status)).toEqual([
      'fulfilled',
      'rejected',
      'rejected',
      'rejected',
      'fulfilled',
      'fulfilled',
    ]);
    expect(await store().decision(uuid(2))).toEqual(decision(2));
    expect(await store().decision(uuid(3))).toBeUndefined();
    expect(await store().decision(uuid(4))).toEqual(decision(4));
    expect(await store().answersTo(uuid(1))).toHaveLength(1);
    expect(await store().answersTo(uuid(2))).toHaveLength(0);
    expect((await store().countsByRule())[0]).toMatchObject({ fired: 3, shown: 3, answered: 2 });
  });

  it('keeps a hundred answers sent at once, and reads while it writes', async () => {
    const saves = Array.from({ length: 100 }, (_, index) => store().saveFeedback([answer(index)]));
    const reads = Array.from({ length: 20 }, (_, index) => store().answersTo(uuid(index)));
    await Promise.all([...saves, ...reads]);
    const kept = await Promise.all(saves.map((_, index) => store().answersTo(uuid(index))));
    expect(kept.map(({ length }) => length)).toEqual(saves.map(() => 1));
  });

  it('keeps what was still waiting when it is closed, and takes nothing after', async () => {
    let kept = 0;
    const saves = Array.from({ length: 30 }, (_, index) =>
      store()
        .saveFeedback([answer(index)])
        .then(() => {
          kept += 1;
        }),
    );
    await store().close();
    await Promise.all(saves);
    expect(kept).toBe(30);
    await expect(store().saveDecision(decision(1))).rejects.toThrow(/closed/);
  });
}

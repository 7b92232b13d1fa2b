import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { openStore } from '../../../src/store/open-store.js';
import type { Store } from '../../../src/store/store.js';
import { checkFeedback } from '../logical-model-check.js';
import { uuid } from '../../store/records.js';
import { cardsOf, NOW, pathsOf, post, problem, TEST_KEY, testApp } from '../../server/test-service.js';
import type { Reply } from '../../server/test-service.js';
import { SPEAKING, speakingCall } from './answers.js';
import { loggedCall } from './call-log.js';

const PATH = '/cds-services/hip-stability-order/feedback';
const OVERRIDDEN = { card: uuid(1), outcome: 'overridden', outcomeTimestamp: '2026-11-24T09:59:00Z' };
const ACCEPTED = { ...OVERRIDDEN, outcome: 'accepted', acceptedSuggestions: [{ id: uuid(2) }] };

let store: Store;
beforeEach(async () => {
  store = await openStore({ path: ':memory:', contentKey: TEST_KEY });
});
afterEach(() => store.close());

async function send(feedback: unknown, strict = false): Promise<Reply> {
  return await post(testApp({ store, strict }), PATH, { feedback });
}

async function refused(item: object, path: string, strict = false): Promise<void> {
  expect(pathsOf(problem(await send([item], strict), 400)), JSON.stringify(item)).toContain(
    `feedback.0.${path}`,
  );
  expect(await store.answersTo(uuid(1))).toEqual([]);
}

describe('feedback', () => {
  it('[B1, B7] is taken at every service and answered 200 {} also for a card nobody knows', async () => {
    for (const [path] of Object.values(SPEAKING)) {
      const reply = await post(testApp({ store }), `${path}/feedback`, { feedback: [OVERRIDDEN] });
      expect(`${reply.status} ${reply.text}`).toBe('200 {}');
    }
    expect(await store.answersTo(uuid(1))).not.toEqual([]);
  });

  it('[B2] is a list: several items, several calls and repeats, of which none is kept twice', async () => {
    for (const body of [undefined, null, {}, 'x', 7]) problem(await send(body), 400);
    const later = { ...OVERRIDDEN, outcomeTimestamp: '2026-11-24T09:59:30Z' };
    const other = { ...OVERRIDDEN, card: uuid(3) };
    for (let round = 0; round < 2; round += 1)
      expect((await send([OVERRIDDEN, later, other, OVERRIDDEN])).status).toBe(200);
    expect(await store.answersTo(uuid(1))).toHaveLength(2);
    expect(await store.answersTo(uuid(3))).toHaveLength(1);
    expect((await send([])).status).toBe(200);
  });

  it('[B3] needs a card, an outcome of two and a time with its zone, in UTC where strict', async () => {
    for (const card of [undefined, null, 7, '', 'card-1', `urn:uuid:${uuid(1)}`])
      await refused({ ...OVERRIDDEN, card }, 'card');
    for (const outcome of [undefined, null, '', 'rejected', 'Accepted'])
      await refused({ ...OVERRIDDEN, outcome }, 'outcome');
    for (const outcomeTimestamp of [
      undefined,
      null,
      7,
      '',
      '2026-11-24',
      '2026-11-24T09:59:00',
      '2026-11-24T09:59Z',
      '2026-02-31T09:59:00Z',
      '24.11.2026',
    ])
      await refused({ ...OVERRIDDEN, outcomeTimestamp }, 'outcomeTimestamp');
    const elsewhere = { ...OVERRIDDEN, outcomeTimestamp: '2026-11-24T11:59:00+02:00' };
    await refused(elsewhere, 'outcomeTimestamp', true);
    await send([elsewhere]);
    expect((await store.answersTo(uuid(1))).map(({ at }) => at)).toEqual(['2026-11-24T09:59:00.000Z']);
  });

  it('[B4] that accepts names what was accepted', async () => {
    for (const acceptedSuggestions of [undefined, []])
      await refused({ ...ACCEPTED, acceptedSuggestions }, 'acceptedSuggestions');
    await refused({ ...ACCEPTED, acceptedSuggestions: [{ id: 'x' }] }, 'acceptedSuggestions.0.id');
    expect(checkFeedback({ feedback: [ACCEPTED] })).toEqual([]);
    expect((await send([ACCEPTED])).status).toBe(200);
    expect((await store.answersTo(uuid(1)))[0]?.acceptedSuggestions).toEqual([uuid(2)]);
  });

  it('[B5] that overrides gives a reason, a comment, both or none, and never an empty reason', async () => {
    const reason = {
      code: 'already-weighed',
      system: 'https://kotyle.example/fhir/CodeSystem/override-reason',
    };
    await refused({ ...OVERRIDDEN, overrideReason: {} }, 'overrideReason');
    for (const code of [undefined, '', ' ', 7])
      await refused(
        { ...OVERRIDDEN, overrideReason: { reason: { ...reason, code } } },
        'overrideReason.reason.code',
      );
    await refused({ ...OVERRIDDEN, overrideReason: { userComment: 7 } }, 'overrideReason.userComment');
    const shapes = [{ reason }, { userComment: 'seen' }, { reason, userComment: 'seen' }, undefined];
    for (const [index, overrideReason] of shapes.entries()) {
      const item = { ...OVERRIDDEN, card: uuid(10 + index), ...(overrideReason && { overrideReason }) };
      expect((await send([item], true)).status).toBe(200);
      const [kept] = await store.answersTo(uuid(10 + index));
      expect(kept?.comment).toBe(overrideReason?.userComment);
      expect(kept?.reason).toEqual(overrideReason?.reason);
    }
  });

  it('[B6] that does not come accepts nothing: the card is shown again and counts as unanswered', async () => {
    const [path, call] = speakingCall('order-sign');
    const service = testApp({ store });
    const first = cardsOf(await post(service, path, call));
    const again = cardsOf(await post(service, path, { ...call, hookInstance: uuid(77) }));
    expect(again.map(({ summary }) => summary)).toEqual(first.map(({ summary }) => summary));
    const counts = await store.countsByRule();
    expect(JSON.stringify(counts)).not.toMatch(/"(?:accepted|overridden)":[1-9]/);
  });

  it('[B7] that is malformed is 400, and nothing of it is kept', async () => {
    problem(await send([OVERRIDDEN, { ...OVERRIDDEN, outcome: 'x' }]), 400);
    expect(await store.answersTo(uuid(1))).toEqual([]);
    problem(await send(Array.from({ length: 1001 }, () => OVERRIDDEN)), 400);
  });

  it('[B8] is logged by counts, never by a comment or a reason in words', async () => {
    const secret = 'Zqxsecret';
    const overrideReason = {
      reason: { code: `${secret} said so`, system: 'https://x.example' },
      userComment: secret,
    };
    const { reply, lines } = await loggedCall(
      PATH,
      { feedback: [{ ...OVERRIDDEN, overrideReason }] },
      { store },
    );
    expect(reply.status).toBe(200);
    expect(lines.find(({ msg }) => msg === 'feedback')).toMatchObject({ items: 1, comments: 1, reasons: 1 });
    expect(JSON.stringify(lines)).not.toContain(secret);
  });

  it('[B9] can be read back per card: what was advised, what was done, said, by whom, when, and where', async () => {
    const [path, call] = speakingCall('order-sign');
    const service = testApp({ store, audit: 'required' });
    const [card] = cardsOf(await post(service, path, call));
    const overrideReason = { userComment: 'seen on rounds' };
    await post(service, PATH, { feedback: [{ ...OVERRIDDEN, card: card?.uuid, overrideReason }] });
    const answers = [];
    for await (const answer of store.answers()) answers.push(answer);
    expect(answers).toHaveLength(1);
    // The six of the certification text: intervention, action, feedback, user, date, location (the client and its service).
    expect(answers[0]).toMatchObject({
      card: card?.uuid,
      outcome: 'overridden',
      comment: 'seen on rounds',
      at: '2026-11-24T09:59:00.000Z',
      receivedAt: NOW,
      iss: '-',
      service: 'hip-stability-order',
      shown: { rule: card?.source.topic.code, hook: 'order-sign' },
    });
    expect(answers[0]?.shown?.user).toMatch(/\S/);
    expect(JSON.stringify(answers)).not.toContain('surgeon-1');
  });
});

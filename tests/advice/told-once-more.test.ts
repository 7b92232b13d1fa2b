import { describe, expect, it } from 'vitest';
import { advise, openingOnce } from '../../src/advice/index.js';
import type { Advice, AdviceInput } from '../../src/advice/index.js';
import { everyCarrier } from './every-carrier.js';
import { advisor, answerTo, inputFor, rulebook, testPatients } from './patients.js';

type Answer = Extract<Advice, { kind: 'answer' }>;

/** Everything an answer holds that can be sent, kept or shown. */
function written(answer: Answer): string {
  const { cards, kept, faults, evaluation, evaluationId, pageOnly, audience, record } = answer;
  return JSON.stringify({
    cards,
    kept,
    faults,
    evaluation: evaluation?.(),
    id: evaluationId?.(),
    page: pageOnly?.(),
    audience,
    record,
  });
}

function acknowledgementsIn({ cards }: Answer): readonly string[] {
  return cards.flatMap(({ extension }) => {
    const hash = extension['example.kotyle.advisory']['acknowledgement'];
    return typeof hash === 'string' ? [hash] : [];
  });
}

async function expectToldAlike(input: AdviceInput): Promise<number> {
  const first = await answerTo(input);
  const known = acknowledgementsIn(first);
  // Without a card that can be answered there is nothing to tell once more.
  if (known.length === 0) return 0;
  // Answered card by card, and all of them: whoever answers may leave some open.
  for (const acknowledged of [new Set(known.slice(0, 1)), new Set(known)]) {
    const again = first.answeredBy?.(acknowledged);
    const anew = await advise({ ...input, acknowledged }, advisor);
    if (!again || anew.kind !== 'answer') throw new Error('expected two answers');
    expect(written(again)).toBe(written(anew));
  }
  return known.length;
}

// Truth: the same question asked from the beginning.
describe('an answer told once more to readers who answered some of its cards', () => {
  it('is what asking anew would answer, to the byte, for every test patient', async () => {
    let cards = 0;
    for (const { bundle, expected } of testPatients())
      for (const hook of ['order-sign', 'patient-view', 'appointment-book']) {
        const input = inputFor(bundle, hook, expected.now);
        if (input) cards += await expectToldAlike(input);
      }
    expect(cards).toBeGreaterThan(100);
  }, 120_000);

  it('is so where a ceiling left cards out, which then have room', async () => {
    const input = inputFor(everyCarrier(), 'order-sign');
    if (!input) throw new Error('nothing to sign');
    const first = await answerTo(input);
    expect(first.kept.some(({ why }) => why === 'ceiling')).toBe(true);
    await expectToldAlike(input);
  });
});

describe('a call', () => {
  it('is read once, however often it is asked what it is about, and anew when it is another', async () => {
    const [patient] = testPatients();
    const input = patient && inputFor(patient.bundle, 'order-sign', patient.expected.now);
    if (!input) throw new Error('nothing to sign');
    const [open, again] = [openingOnce(), openingOnce()];
    const opened = open(input, rulebook);
    expect(open(input, rulebook)).toBe(opened);
    const advice = await advise(input, advisor, open);
    if (advice.kind !== 'answer' || opened.kind !== 'record')
      throw new Error('expected a record and an answer');
    expect(advice.record).toBe(opened.record);
    expect(open({ ...input }, rulebook)).not.toBe(opened);
    // Another call, even of the same patient, is read anew.
    expect(again(input, rulebook)).not.toBe(opened);
    expect(written(await answerTo(input))).toBe(written(advice));
  });
});

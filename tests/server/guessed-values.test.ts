import { createHash, createHmac, createSecretKey, generateKeySync } from 'node:crypto';
import { expect, it } from 'vitest';
import { advise } from '../../src/advice/index.js';
import type { AdviceInput } from '../../src/advice/index.js';
import { canonicalJson } from '../../src/base/canonical-json.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { nameOf } from '../../src/fhir/references.js';
import { openStore } from '../../src/store/open-store.js';
import { newPseudonyms } from '../../src/store/pseudonym.js';
import { advisor, service } from '../advice/patients.js';
import { each } from '../long-form.js';
import { TABLES, describeDatabases } from '../store/databases.js';
import {
  ORDER_PATH,
  orderCall,
  cardsOf,
  planned,
  post,
  NOW,
  TEST_KEY,
  testApp,
  TEXTBOOK,
} from './test-service.js';
import type { HookCall } from './test-service.js';

/**
 * Somebody has the whole database and this program, and knows everything of a call but one thing: tries every value it
 * could have, and looks whether anything in the database follows from it.
 */
const TRUE_INCLINATION = 63.4;
const TRUE_DATE = '2026-10-17';
const TRUE_PATIENT = 'mrn-4711';

interface Guess {
  readonly inclination?: number;
  readonly date?: string;
  readonly patient?: string;
}

const steep = ({
  inclination = TRUE_INCLINATION,
  date = TRUE_DATE,
  patient = TRUE_PATIENT,
}: Guess): JsonObject =>
  planned('cup-inclination', inclination, 'deg', {
    id: 'steep',
    effectiveDateTime: date,
    subject: { reference: `Patient/${patient}` },
  });

function callOf(guess: Guess): HookCall {
  const { patient = TRUE_PATIENT } = guess;
  const call = orderCall({ measures: [...TEXTBOOK.slice(1), steep(guess)] });
  const text = JSON.stringify(call).replaceAll('patient-1', patient);
  return JSON.parse(text) as HookCall;
}

/** Names as this program makes them, and digests anybody might think of. */
async function tokensOf(guess: Guess, salt: string, secret?: string): Promise<ReadonlySet<string>> {
  const call = callOf(guess);
  const input: AdviceInput = {
    service: service('order-sign'),
    hookInstance: call.hookInstance,
    patientId: String(call.context['patientId']),
    userId: String(call.context['userId']),
    context: call.context,
    prefetch: call.prefetch,
    iss: '-',
    now: NOW,
    engine: '0.1.0',
    mode: 'development',
    ...(secret !== undefined && { nameSecret: secret }),
  };
  const advice = await advise(input, advisor);
  if (advice.kind !== 'answer') throw new Error('expected an answer');
  const resource = steep(guess);
  const texts = [
    guess.patient ?? TRUE_PATIENT,
    `Patient/${guess.patient ?? TRUE_PATIENT}`,
    String(guess.inclination ?? TRUE_INCLINATION),
    guess.date ?? TRUE_DATE,
    JSON.stringify(resource),
    canonicalJson(resource),
    canonicalJson([nameOf({ resource }), resource]),
    canonicalJson(['patient', '-', null, guess.patient ?? TRUE_PATIENT]),
  ];
  const known = advice.cards.flatMap(({ extension }) => [
    String(extension['example.kotyle.advisory']['acknowledgement']),
  ]);
  return new Set([
    ...known,
    advice.evaluationId?.() ?? '',
    ...texts.flatMap((text) => digestsOf(text, salt)),
  ]);
}

function digestsOf(text: string, salt: string): readonly string[] {
  const keys = [salt, Buffer.from(salt, 'base64'), canonicalJson(['input', salt]), ''];
  const inputs = [text, salt + text, text + salt, canonicalJson(['input', salt]) + text];
  return inputs.flatMap((input) => [
    createHash('sha256').update(input).digest('hex'),
    ...keys.map((key) => createHmac('sha256', key).update(input).digest('hex')),
    // A key of one's own, since the right one is not in the database.
    newPseudonyms(OWN_KEY).input(salt, text),
    newPseudonyms(OWN_KEY).patient({ iss: '-', id: text }),
  ]);
}

const OWN_KEY = generateKeySync('hmac', { length: 256 });

const GUESSES: Readonly<Record<string, readonly Guess[]>> = {
  // Every inclination a cup could have, to the tenth of a degree.
  inclination: Array.from({ length: 901 }, (_, tenth) => ({ inclination: tenth / 10 })),
  // Every day of the last two years.
  date: Array.from({ length: 730 }, (_, day) => ({
    date: new Date(Date.parse(NOW) - day * 86_400_000).toISOString().slice(0, 10),
  })),
  patient: Array.from({ length: 300 }, (_, number) => ({ patient: `mrn-${4500 + number}` })),
};
const RIGHT: Readonly<Record<string, Guess>> = {
  inclination: { inclination: TRUE_INCLINATION },
  date: { date: TRUE_DATE },
  patient: { patient: TRUE_PATIENT },
};

// Integration decisions section 5: HMAC digests with a per-decision salt, pseudonyms under a key.
describeDatabases('a value that somebody tries to guess', ({ empty, rows }) => {
  it('leaves nothing in the database by which a right guess is told from a wrong one', async () => {
    const path = await empty();
    const store = await openStore({ path, contentKey: TEST_KEY });
    const app = testApp({ store, audit: 'required' });
    const cards = cardsOf(await post(app, ORDER_PATH, callOf({})));
    expect(cards.map((card) => card.source.topic.code)).toContain('cup-inclination-outside-published');
    const feedback = cards.map(({ uuid }) => ({
      card: uuid,
      outcome: 'overridden',
      outcomeTimestamp: NOW,
      overrideReason: { userComment: `${TRUE_INCLINATION}` },
    }));
    expect((await post(app, `${ORDER_PATH}/feedback`, { feedback })).status).toBe(200);
    const tables = await Promise.all(TABLES.map((table) => rows(path, `select * from ${table}`)));
    const kept = new Set(JSON.stringify(tables).match(/(?:sha256-)?[0-9a-f-]{16,}/g));
    const [decided] = await rows(path, 'select record from decisions');
    const { salt } = JSON.parse(String(decided?.['record'])) as { readonly salt: string };
    await store.close();

    for (const [what, all] of Object.entries(GUESSES)) {
      const right = RIGHT[what] ?? {};
      const guesses = [...each(5, all), right];
      // Found by a right guess and by a wrong one alike: names that do not follow from the value.
      const wrong = await tokensOf(guesses[0] ?? {}, salt);
      const hits: Guess[] = [];
      for (const guess of guesses) {
        const tokens = [...(await tokensOf(guess, salt))].filter((token) => !wrong.has(token));
        if (tokens.some((token) => kept.has(token))) hits.push(guess);
      }
      expect(hits, what).toEqual([]);
      expect(all).toContainEqual(right);
    }

    // With the keys the same search does find the value: it was not for want of looking.
    const names = newPseudonyms(TEST_KEY);
    const mine = await tokensOf({}, salt, names.secret);
    const found = [...mine].filter((token) => kept.has(token));
    expect(found.length).toBeGreaterThanOrEqual(2);
    const resource = steep({});
    expect(kept).toContain(names.input(salt, canonicalJson([nameOf({ resource }), resource])));
    expect(kept).toContain(names.patient({ iss: '-', id: TRUE_PATIENT }));
    expect(kept).not.toContain(names.input('another salt', canonicalJson([nameOf({ resource }), resource])));
    expect(newPseudonyms(createSecretKey(Buffer.alloc(32, 9))).secret).not.toBe(names.secret);
  }, 180_000);
});

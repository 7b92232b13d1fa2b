import { describe, expect, it } from 'vitest';
import { fhirIssues } from '../../oracles/fhir-validity.js';
import { ORDER_PATH, orderCall, post, problem, testApp } from '../../server/test-service.js';
import { everyAnswer } from './answers.js';

const app = testApp();

/** Paths of members that are null, "", [] or {}. */
function emptyMembers(value: unknown, path: string): readonly string[] {
  if (value === null || value === '') return [path];
  if (typeof value !== 'object') return [];
  const members = Object.entries(value);
  if (members.length === 0) return [path];
  return members.flatMap(([name, member]) => emptyMembers(member, `${path}.${name}`));
}

describe('JSON over HTTP', () => {
  it('[G2] the resources of answers are valid FHIR R4 in JSON, and cards carry none', async () => {
    const answers = Object.values(await everyAnswer(app));
    const outcomes = answers.filter(({ headers }) => headers['content-type']?.includes('fhir+json'));
    expect(outcomes.length).toBeGreaterThan(5);
    for (const { text } of outcomes) expect(fhirIssues(JSON.parse(text) as object)).toEqual([]);
    for (const { text } of answers.filter((one) => one.status === 200))
      expect(text).not.toContain('"resource":');
  });

  it('[G3] answers are strict JSON: parsed and written again they are the same bytes', async () => {
    for (const [what, { text }] of Object.entries(await everyAnswer(app)))
      // A comment, a trailing comma or a name that comes twice would not survive.
      expect(JSON.stringify(JSON.parse(text)), what).toBe(text);
  });

  it('[G4, G5] no answer has an empty member but a list of cards, and feedback says {}', async () => {
    const allowed: Readonly<Record<string, readonly string[]>> = { 'no card': ['.cards'], feedback: [''] };
    const answers = await everyAnswer(app);
    // A card with an empty member would not have left, so that the cards must be there too.
    expect(answers['order-sign']?.text).toContain('"code":"cup-inclination-outside-published"');
    expect(answers['order-sign']?.text).toContain('"code":"neurological-disease"');
    for (const [what, { text }] of Object.entries(answers))
      expect(emptyMembers(JSON.parse(text), ''), what).toEqual(allowed[what] ?? []);
  });

  it('[G6] answers name JSON in UTF-8, and only JSON in UTF-8 is read', async () => {
    const types: readonly (readonly [type: string, status: number])[] = [
      ['application/json', 200],
      ['application/json; charset=utf-8', 200],
      ['application/json;charset=UTF-8', 200],
      ['APPLICATION/JSON', 200],
      ['application/json; profile="x"', 200],
      ['application/json; charset=iso-8859-1', 415],
      ['application/json; charset=utf-16', 415],
      ['application/fhir+json', 415],
      ['application/jsonp', 415],
      ['text/json', 415],
      ['text/plain', 415],
      ['application/xml', 415],
      ['multipart/form-data; boundary=x', 415],
    ];
    for (const [type, status] of types) {
      const reply = await post(app, ORDER_PATH, JSON.stringify(orderCall()), { 'Content-Type': type });
      expect(reply.status, type).toBe(status);
      if (status === 200) expect(reply.headers['content-type']).toBe('application/json; charset=utf-8');
    }
  });

  it('[G7] a body a byte too large is 413 and one of the size allowed is read', async () => {
    const text = JSON.stringify(orderCall());
    const size = Buffer.byteLength(text);
    expect((await post(testApp({ bodyLimitBytes: size }), ORDER_PATH, text)).status).toBe(200);
    problem(await post(testApp({ bodyLimitBytes: size - 1 }), ORDER_PATH, text), 413);
    problem(await post(app, ORDER_PATH, `${text}}`), 400);
  });
});

describe('texts that are JSON and unusual', () => {
  const text = JSON.stringify(orderCall());

  it('are read: a byte order mark is not a part of the text', async () => {
    // Truth: RFC 8259 section 8.1: parsers may ignore one.
    expect((await post(app, ORDER_PATH, Buffer.from(`\uFEFF${text}`))).status).toBe(200);
  });

  it('are read: of a name that comes twice the last counts, for every reader alike', async () => {
    // Truth: ECMA-262, JSON.parse: later values overwrite earlier ones. One reader, so no second opinion.
    const twice = text.replace('"patientId":"patient-1"', '"patientId":"somebody","patientId":"patient-1"');
    expect(twice).not.toBe(text);
    expect((await post(app, ORDER_PATH, twice)).text).toBe((await post(app, ORDER_PATH, text)).text);
    const other = text.replace('"patientId":"patient-1"', '"patientId":"patient-1","patientId":"somebody"');
    problem(await post(app, ORDER_PATH, other), 400);
  });

  it('are answered in well-formed UTF-8, whatever half of a pair or null character they hold', async () => {
    for (const odd of ['\\ud800', '\\udc00\\ud800', '\\u0000', '\\uffff']) {
      const planted = text
        .replaceAll('"gender":"female"', `"gender":"${odd}","id2":"${odd}"`)
        .replaceAll('"code":"52734007"', `"code":"52734007","version":"${odd}","display":"${odd}"`);
      expect(planted).not.toBe(text);
      const reply = await post(app, ORDER_PATH, planted);
      expect(reply.status, odd).toBe(200);
      expect(Buffer.from(reply.text, 'utf8').toString('utf8')).toBe(reply.text);
      expect(() => JSON.parse(reply.text) as unknown).not.toThrow();
    }
  });
});

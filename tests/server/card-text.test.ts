import { describe, expect, it } from 'vitest';
import { ask, STEEP, summaries, UCUM, withInclination } from './cases.js';
import { ORDER_PATH, orderCall, planned, post, rulesOf, testApp, TEXTBOOK } from './test-service.js';

const app = testApp();

describe('text of the record on a card', () => {
  const hostile: readonly string[] = [
    '<script>alert(1)</script>',
    '<img src=x onerror=alert(1)>',
    '**bold** and [link](https://evil.example)',
    'https://evil.example/steal',
    'www.evil.example',
    '`code` | table | ~~gone~~',
    '\n\n# Heading',
    '&lt;b&gt;',
  ];
  it('carries no HTML, Markdown or address that a client would bring to life', async () => {
    for (const text of hostile) {
      const cards = await ask(
        orderCall({
          measures: [
            ...TEXTBOOK,
            planned('cup-inclination', 1, 'deg', {
              id: 'a',
              valueQuantity: { value: text, system: UCUM, code: 'deg' },
            }),
            planned('stem-anteversion', 1, 'deg', {
              id: 'b',
              code: {
                coding: [{ system: 'https://kotyle.example/fhir/CodeSystem/hip-measure', code: text }],
              },
            }),
          ],
        }),
      );
      expect(rulesOf(cards), text).toContain('record-unreadable');
      for (const { summary, detail } of cards) expectHarmless(summary + detail, text);
    }
  });

  it('carries none out of the unit either, where UCUM allows a remark in braces', async () => {
    for (const code of ['deg{<b>x</b>}', 'deg{**x**}', 'deg{[x](//evil.example)}']) {
      const valueQuantity = { value: 400, system: UCUM, code };
      const cards = await ask(orderCall({ measures: withInclination({ ...STEEP, valueQuantity }) }));
      expect(cards.length, code).toBeGreaterThan(0);
      for (const { summary, detail } of cards) expectHarmless(summary + detail, code);
    }
  });
});

/** C5, and GitHub Flavored Markdown 6.9 (autolinks, extended): nothing of this stands in our own words. */
function expectHarmless(text: string, what: string): void {
  const own = text
    .replaceAll(/\*\*(Found|Options|To check|Before surgery|Have ready|Sure\?|Not known)\*\*/g, '')
    .replaceAll(/^\*[^*\n]+\*$/gm, '');
  expect(own, what).not.toMatch(/[<>`|~[\]*&]|:\/\/|www\.|\n#/);
}

describe('units, whatever came before', () => {
  it('are read the same after ten thousand that are none', async () => {
    // 66.7 gon is 60°; style: same input, same output.
    const gon = { ...STEEP, valueQuantity: { value: 66.7, system: UCUM, code: 'gon' } };
    const nonsense = Array.from({ length: 10_001 }, (_, index) =>
      planned('cup-inclination', 40, `zz${index}`, { id: `nonsense-${index}` }),
    );
    await post(app, ORDER_PATH, orderCall({ measures: nonsense }));
    const cards = await ask(orderCall({ measures: withInclination(gon) }));
    expect(summaries(cards)).toEqual(['warning cup-inclination-outside-published']);
  });
});

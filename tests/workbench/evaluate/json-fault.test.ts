import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { jsonFault } from '../../../src/workbench/evaluate/json-fault.js';

function isJson(text: string): boolean {
  try {
    JSON.parse(text);
    return true;
  } catch {
    return false;
  }
}

describe('where a text stops being JSON', () => {
  it.each([
    ['{"a": [1, 2,}', 1, 13, 'a value', '}'],
    ['{\n  "a": 1\n  "b": 2\n}', 3, 3, 'a comma or }', '"'],
    ['{"a" 1}', 1, 6, 'a colon', '1'],
    ['{"a": 1,}', 1, 9, 'a member name in double quotes', '}'],
    ["{'a': 1}", 1, 2, 'a member name in double quotes or }', "'"],
    ['[1 2]', 1, 4, 'a comma or ]', '2'],
    ['{"a": 1', 1, 8, 'a comma or }', 'the end'],
    ['{"a": "b\n"}', 1, 9, 'the closing double quote of a text', 'the end of the line'],
    ['"\\x"', 1, 2, 'an escape that JSON knows', '\\'],
    ['{} {}', 1, 4, 'nothing more', '{'],
    ['[01]', 1, 3, 'a comma or ]', '1'],
    ['nothing', 1, 1, 'a value', 'n'],
    ['', 1, 1, 'a value', 'the end'],
  ])('finds the place in %j', (text, line, column, expected, found) => {
    // Truth: the grammar of RFC 8259, read by hand.
    expect(jsonFault(text)).toEqual({ line, column, expected, found });
  });

  it('finds a fault in exactly the texts that JSON.parse refuses', () => {
    // Truth: an independent implementation, on JSON with one character taken out, put in or changed.
    const change = fc.record({
      at: fc.nat(),
      put: fc.constantFrom('', ',', '}', ']', '"', '\\', ':', '0', 'e', '-', ' ', '\n', '\u0001'),
    });
    fc.assert(
      fc.property(fc.json(), change, fc.boolean(), (json, { at, put }, removes) => {
        const place = at % (json.length + 1);
        const text = json.slice(0, place) + put + json.slice(place + (removes ? 1 : 0));
        expect(jsonFault(text) === undefined).toBe(isJson(text));
      }),
      { numRuns: 3000, seed: 1 },
    );
  });

  it('is not stopped by deep nesting', () => {
    const deep = '['.repeat(200_000);
    expect(jsonFault(deep)).toMatchObject({ column: 200_001, found: 'the end' });
  });
});

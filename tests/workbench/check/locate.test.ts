import { describe, expect, it } from 'vitest';
import { locator } from '../../../src/workbench/check/locate.js';

const TEXT = `{
  "id": "one",
  "terms": {
    "hip.side": "side",
    "hip": { "side": 1 }
  },
  "parameters": [
    { "id": "first.one", "unit": "deg" },
    {
      "id": "second",
      "citations": ["a-2001",
                    "b-2002"]
    }
  ],
  "when": {
    "any": [
      { "fact": "x", "value": 1 },
      { "any": [
        { "fact": "y", "value": 1 },
        { "fact": "y", "value": 2 }
      ] },
      { "fact": "y", "value": 3 }
    ]
  },
  "says": ["plain", "with {hole} in it"]
}
`;
const locate = locator(new Map([['a.json', TEXT]]));
const line = (path: string, found = 'nothing of that', expected = 'something else'): number =>
  locate({ file: 'a.json', path, expected, found });

// Truth throughout: closed form, the lines of the text above, counted from 1.
describe('the line of a fault', () => {
  it.each([
    ['the top of the file', '', 1],
    ['a member', 'id', 2],
    ['a member below another', 'terms.hip.side', 4],
    ['an item by its index', 'when.any[1].any[0].fact', 19],
    ['an item by its id', 'parameters.second.citations', 11],
    ['an item whose id has dots', 'parameters.first.one.unit', 8],
    ['the nearest that exists, for a member that is missing', 'parameters.second.why', 9],
    ['the nearest that exists, for an item that is missing', 'when.any[7].fact', 16],
    ['the nearest that exists, for a path that is words', 'conflict or error', 1],
  ])('is that of %s', (_what, path, expected) => {
    expect(line(path)).toBe(expected);
  });

  it('is that of what was found, where it stands below the place told', () => {
    expect(line('parameters.second', 'b-2002')).toBe(12);
    expect(line('parameters.second', 'b-2002 (quoted only)')).toBe(12);
    expect(line('parameters', '"deg"')).toBe(8);
    expect(line('says', '{hole}')).toBe(25);
  });

  it('is that of a member that nobody knows', () => {
    expect(line('', '{"id":"one"…', 'no member surplus, says')).toBe(25);
  });

  it('is that of the innermost group that asks about a fact twice', () => {
    expect(line('when', 'one that is true for every value', 'a group that depends on y')).toBe(18);
  });

  it('is 1 in a file that is not there', () => {
    expect(locate({ file: 'b.json', path: 'id', expected: 'a file', found: 'none' })).toBe(1);
  });
});

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { CanonicalBytes } from '../../src/base/canonical-bytes.js';
import { canonicalJson } from '../../src/base/canonical-json.js';

function doubleOf(hex: string): number {
  const view = new DataView(new ArrayBuffer(8));
  view.setBigUint64(0, BigInt(`0x${hex}`));
  return view.getFloat64(0);
}

describe('canonical JSON', () => {
  it('gives the bytes of the sample in RFC 8785, sections 3.2.2 and 3.2.4', () => {
    // Truth: published. The RFC prints the input of 3.2.2 and, in 3.2.4, its canonical form as UTF-8 bytes.
    const input = JSON.parse(
      String.raw`{"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/", "literals": [null, true, false]}`,
    ) as unknown;
    const bytes = `
      7b 22 6c 69 74 65 72 61 6c 73 22 3a 5b 6e 75 6c 6c 2c 74 72 75 65 2c 66 61 6c 73 65 5d 2c
      22 6e 75 6d 62 65 72 73 22 3a 5b 33 33 33 33 33 33 33 33 33 2e 33 33 33 33 33 33 33 2c 31
      65 2b 33 30 2c 34 2e 35 2c 30 2e 30 30 32 2c 31 65 2d 32 37 5d 2c 22 73 74 72 69 6e 67 22
      3a 22 e2 82 ac 24 5c 75 30 30 30 66 5c 6e 41 27 42 5c 22 5c 5c 5c 5c 5c 22 2f 22 7d`;
    expect(Buffer.from(canonicalJson(input), 'utf8').toString('hex')).toBe(bytes.replaceAll(/\s/g, ''));
  });

  it('sorts members by UTF-16 code units, as the example of RFC 8785, section 3.2.3 does', () => {
    // Truth: published. The emoji sorts before U+FB33 because its first code unit is a surrogate.
    const sorted = canonicalJson({
      '\u20ac': 'Euro Sign',
      '\r': 'Carriage Return',
      '\ufb33': 'Hebrew Letter Dalet With Dagesh',
      '1': 'One',
      '\ud83d\ude00': 'Emoji: Grinning Face',
      '\u0080': 'Control',
      '\u00f6': 'Latin Small Letter O With Diaeresis',
    });
    expect(sorted).toBe(
      '{"\\r":"Carriage Return","1":"One","\u0080":"Control","\u00f6":"Latin Small Letter O With Diaeresis",' +
        '"\u20ac":"Euro Sign","\ud83d\ude00":"Emoji: Grinning Face","\ufb33":"Hebrew Letter Dalet With Dagesh"}',
    );
  });

  it.each([
    ['0000000000000000', '0'],
    ['8000000000000000', '0'],
    ['0000000000000001', '5e-324'],
    ['8000000000000001', '-5e-324'],
    ['7fefffffffffffff', '1.7976931348623157e+308'],
    ['ffefffffffffffff', '-1.7976931348623157e+308'],
    ['4340000000000000', '9007199254740992'],
    ['c340000000000000', '-9007199254740992'],
    ['4430000000000000', '295147905179352830000'],
    ['44b52d02c7e14af5', '9.999999999999997e+22'],
    ['44b52d02c7e14af6', '1e+23'],
    ['44b52d02c7e14af7', '1.0000000000000001e+23'],
    ['444b1ae4d6e2ef4e', '999999999999999700000'],
    ['444b1ae4d6e2ef4f', '999999999999999900000'],
    ['444b1ae4d6e2ef50', '1e+21'],
    ['3eb0c6f7a0b5ed8c', '9.999999999999997e-7'],
    ['3eb0c6f7a0b5ed8d', '0.000001'],
    ['41b3de4355555553', '333333333.3333332'],
    ['41b3de4355555554', '333333333.33333325'],
    ['41b3de4355555555', '333333333.3333333'],
    ['41b3de4355555556', '333333333.3333334'],
    ['41b3de4355555557', '333333333.33333343'],
    ['becbf647612f3696', '-0.0000033333333333333333'],
    ['43143ff3c1cb0959', '1424953923781206.2'],
  ])('writes the double %s as %s', (hex, text) => {
    // Truth: published, RFC 8785, appendix B.
    expect(canonicalJson(doubleOf(hex))).toBe(text);
  });

  it('refuses what JSON cannot hold: NaN, infinities, functions, big integers, a bare undefined', () => {
    // Truth: published, RFC 8785, section 3.2.2.3 for NaN and infinity (appendix B, last rows); RFC 8259 for the rest.
    for (const value of [
      doubleOf('7fffffffffffffff'),
      Infinity,
      -Infinity,
      () => 1,
      1n,
      undefined,
      Symbol('s'),
    ]) {
      expect(() => canonicalJson(value)).toThrow(TypeError);
      expect(() => canonicalJson({ inside: [value === undefined ? NaN : value] })).toThrow(TypeError);
    }
  });

  it('leaves out members without a value and keeps the place of an array item without one', () => {
    // Truth: ECMA-262, JSON.stringify, whose treatment of undefined it follows.
    expect(canonicalJson({ b: undefined, a: 1 })).toBe('{"a":1}');
    expect(canonicalJson([undefined, 1])).toBe('[null,1]');
  });

  it('gives the same text whatever order members were written in, and parses back to the same value', () => {
    // Truth: closed form; JSON.parse is the independent reader.
    fc.assert(
      fc.property(fc.json({ maxDepth: 4 }), (text) => {
        const value = JSON.parse(text) as unknown;
        expect(JSON.parse(canonicalJson(value))).toEqual(JSON.parse(JSON.stringify(value)));
        expect(canonicalJson(reversed(value))).toBe(canonicalJson(value));
      }),
      { numRuns: 500, seed: 8785 },
    );
  });

  it('sorts few names and many alike, and writes every text as JSON.stringify does, of whatever length', () => {
    // Truth: ECMA-262: Array.prototype.sort by code units, and JSON.stringify of a single text.
    const unit = fc.integer({ min: 0, max: 0xffff }).map((code) => String.fromCharCode(code));
    const text = fc.oneof(
      fc.string({ unit, maxLength: 6 }),
      fc.string({ unit, minLength: 60, maxLength: 70 }),
      fc.constantFrom('"', '\\', '\u001f', ' ', '\u007f', '\ud7ff', '\ue000', '\ud800\udc00', '__proto__x'),
    );
    fc.assert(
      fc.property(fc.uniqueArray(text, { maxLength: 60 }), (names) => {
        const members = [...names].sort().map((name) => `${JSON.stringify(name)}:${JSON.stringify(name)}`);
        const value = Object.fromEntries(names.map((name) => [name, name]));
        expect(canonicalJson(value)).toBe(`{${members.join(',')}}`);
      }),
      { numRuns: 300, seed: 8785 },
    );
  });

  it('does not throw on half a surrogate pair from outside, and keeps two of them apart', () => {
    // A deliberate departure: RFC 8785 would end with an error, but outside text must never stop an answer.
    expect(canonicalJson('\ud800')).toBe(String.raw`"\ud800"`);
    expect(canonicalJson('\ud800')).not.toBe(canonicalJson('\ud801'));
  });
});

describe('canonical JSON as bytes', () => {
  const text = (value: unknown, bytes = new CanonicalBytes()): string =>
    Buffer.from(bytes.of(value)).toString('utf8');

  it('is the canonical text in UTF-8, whatever was written before into the same memory', () => {
    // Truth: Node's own UTF-8 of the text above.
    const bytes = new CanonicalBytes();
    const unit = fc.integer({ min: 0, max: 0xffff }).map((code) => String.fromCharCode(code));
    const words = fc.oneof(fc.string(), fc.string({ unit, maxLength: 90 }), fc.string({ maxLength: 20_000 }));
    fc.assert(
      fc.property(fc.json({ maxDepth: 4, stringUnit: unit }), words, (json, word) => {
        const value = [JSON.parse(json) as unknown, word, { [word]: undefined, z: -0, a: [undefined] }];
        expect(text(value, bytes)).toBe(canonicalJson(value));
      }),
      { numRuns: 500, seed: 8785 },
    );
  });

  it('refuses what JSON cannot hold, and writes the next value all the same', () => {
    const bytes = new CanonicalBytes();
    for (const value of [NaN, Infinity, () => 1, 1n, undefined, Symbol('s'), [{ inside: NaN }]])
      expect(() => bytes.of(value)).toThrow(TypeError);
    expect(text({ b: 1, a: 'ü' }, bytes)).toBe('{"a":"ü","b":1}');
  });

  it('has room for more than it had at first, and for texts of three bytes a unit', () => {
    for (const length of [10, 64, 65, 16_381, 16_382, 16_383, 16_384, 100_000])
      for (const letter of ['a', '"', '\u20ac', '\ud83d\ude00'])
        expect(text(['x', letter.repeat(length)])).toBe(canonicalJson(['x', letter.repeat(length)]));
  });
});

function reversed(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(reversed);
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(
    Object.entries(value)
      .reverse()
      .map(([name, member]) => [name, reversed(member)]),
  );
}

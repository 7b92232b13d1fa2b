import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { readRuleTexts } from '../../../src/workbench/check/rule-texts.js';
import { RULES } from './planted.js';

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'kotyle-texts-'));
  mkdirSync(join(folder, 'empty'));
  mkdirSync(join(folder, 'other'));
  writeFileSync(join(folder, 'other', 'a.json'), '{}');
});
afterAll(() => {
  rmSync(folder, { recursive: true });
});

describe('a folder of rules', () => {
  it('is read with the text of every file', () => {
    const { pack, texts } = readRuleTexts(RULES);
    expect([...texts.keys()]).toEqual(pack.files.map(({ path }) => path));
    for (const { path, content } of pack.files) expect(JSON.parse(texts.get(path) ?? '')).toEqual(content);
  });

  it.each([
    ['is missing', 'nowhere', /found nothing at .*nowhere/],
    ['is empty', 'empty', /without JSON files at .*empty/],
    ['holds other files', 'other', /expected rulebook\.json in .*other, found 1 other JSON file/],
    ['is a file', 'other/a.json', /found a file at .*a\.json/],
  ])('that %s is refused with what to try', (_what, path, message) => {
    expect(() => readRuleTexts(join(folder, path))).toThrow(message);
    expect(() => readRuleTexts(join(folder, path))).toThrow(
      expect.objectContaining({ advice: expect.stringContaining('rulebook.json') as string }) as Error,
    );
  });
});

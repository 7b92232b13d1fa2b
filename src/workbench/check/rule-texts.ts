import { existsSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import type { Pack } from '../../rulebook/pack.js';
import { readPack } from '../../rulebook-files/read-pack.js';
import { repeatedMembers } from '../../rulebook-files/repeated-members.js';
import { jsonFault } from '../evaluate/json-fault.js';
import type { CheckFinding, CheckName } from './finding.js';
import { UnusableInput } from './finding.js';
import { lineAt } from './locate.js';

/** A rulebook folder as read: what its files say, and how they say it. */
export interface RuleTexts {
  readonly pack: Pack;
  readonly texts: ReadonlyMap<string, string>;
}

const TRY_RULES = 'a folder laid out like rules/, with rulebook.json at its top';

/** Reads a rulebook folder. Throws UnusableInput when there is no rulebook to speak of. */
export function readRuleTexts(root: string): RuleTexts {
  const found = statSync(root, { throwIfNoEntry: false });
  if (!found)
    throw new UnusableInput(`expected a folder with a rulebook, found nothing at ${root}`, TRY_RULES);
  if (!found.isDirectory())
    throw new UnusableInput(`expected a folder with a rulebook, found a file at ${root}`, TRY_RULES);
  const pack = readable(root, () => readPack(root));
  if (pack.files.length === 0)
    throw new UnusableInput(`expected a rulebook, found a folder without JSON files at ${root}`, TRY_RULES);
  if (!existsSync(join(root, 'rulebook.json')))
    throw new UnusableInput(
      `expected rulebook.json in ${root}, found ${pack.files.length} other JSON files`,
      TRY_RULES,
    );
  const texts = readable(
    root,
    () => new Map(pack.files.map(({ path }) => [path, readFileSync(join(root, path), 'utf8')])),
  );
  return { pack, texts };
}

/** What the system refuses to read is told as such, with the path it names. */
function readable<Value>(root: string, read: () => Value): Value {
  try {
    return read();
  } catch (error) {
    const why = error instanceof Error ? error.message : 'no reason given';
    throw new UnusableInput(`expected a rulebook that can be read at ${root}: ${why}`, TRY_RULES);
  }
}

/** Where a text stops being JSON. */
export function brokenJson(file: string, text: string): readonly CheckFinding[] {
  const fault = jsonFault(text);
  if (!fault) return [];
  const { line, column, expected, found } = fault;
  const where = { check: 'syntax' as const, severity: 'error' as const, file, path: '', line };
  return [{ ...where, expected: `${expected}, at column ${column}`, found }];
}

/** Each member that stands twice in one object: only the last would be read. */
export function repeatedIn(check: CheckName, file: string, text: string): readonly CheckFinding[] {
  return repeatedMembers(text).map((key) => ({
    check,
    severity: 'error',
    file,
    path: '',
    line: lineAt(text, key.offset),
    expected: 'each member once in an object',
    found: `"${String(key.value)}" a second time`,
  }));
}

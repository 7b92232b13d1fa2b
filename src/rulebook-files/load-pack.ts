import { readFileSync } from 'node:fs';
import { buildRulebook } from '../rulebook/build.js';
import { formatIssue } from '../rulebook/pack.js';
import type { Rulebook } from '../rulebook/types.js';
import { readPackText } from './pack-file.js';

/** Reads and checks a released pack. Throws with every fault listed: a service never runs on half a rulebook. */
export function loadPack(path: string, computations: readonly string[]): Rulebook {
  const read = readPackText(textOf(path));
  if (!read.ok) throw new Error(`the pack ${path}: expected ${read.expected}, found ${read.found}`);
  const built = buildRulebook(read.pack, computations);
  if (built.ok) return built.rulebook;
  throw new Error(`the rulebook in ${path} has faults:\n${built.issues.map(formatIssue).join('\n')}`);
}

function textOf(path: string): string {
  try {
    return readFileSync(path, 'utf8');
  } catch (cause) {
    const code = cause instanceof Error && 'code' in cause ? String(cause.code) : 'no reason given';
    throw new Error(`the pack ${path}: expected a readable file, found ${code}`, { cause });
  }
}

import { readdirSync, readFileSync } from 'node:fs';
import { join, relative, sep } from 'node:path';
import { compareText } from '../base/order.js';
import type { Pack, PackFile } from '../rulebook/pack.js';

/** What stands under `rules/` and is no part of the rulebook: made from it, or, as the hazard log, about it. */
const APART: ReadonlySet<string> = new Set(['schema', 'releases', 'hazards.json']);

/** Reads every JSON file below a rules folder into a pack; a file that is no JSON becomes one that no schema accepts. */
export function readPack(root: string): Pack {
  const files: PackFile[] = [];
  for (const entry of readdirSync(root, { withFileTypes: true, recursive: true })) {
    if (!entry.isFile() || !entry.name.endsWith('.json')) continue;
    const full = join(entry.parentPath, entry.name);
    const path = relative(root, full).split(sep).join('/');
    if (APART.has(path.split('/')[0] ?? '')) continue;
    files.push({ path, content: parse(readFileSync(full, 'utf8')) });
  }
  return { files: files.sort((a, b) => compareText(a.path, b.path)) };
}

function parse(text: string): unknown {
  try {
    return JSON.parse(text) as unknown;
  } catch (error) {
    // The schema check reports this text, with the file's name, as what was found.
    return `not JSON: ${error instanceof Error ? error.message : 'unreadable'}`;
  }
}

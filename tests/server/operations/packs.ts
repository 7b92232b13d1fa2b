import { renameSync, writeFileSync } from 'node:fs';
import { packText } from '../../../src/rulebook-files/pack-file.js';
import { readPack } from '../../../src/rulebook-files/read-pack.js';
import type { Pack } from '../../../src/rulebook/pack.js';
import { SHIPPED_RULES } from '../../../src/server/serve.js';

/** The shipped rules as a pack of another version: they say the same, and their hash is another. */
export function packOfVersion(version: string): Pack {
  const { files } = readPack(SHIPPED_RULES);
  return {
    files: files.map((file) =>
      file.path === 'rulebook.json' ? { ...file, content: { ...(file.content as object), version } } : file,
    ),
  };
}

/** Puts a pack in the place of another, in one step, as whoever deploys it should. */
export function putPack(path: string, content: Pack | string): void {
  writeFileSync(`${path}.new`, typeof content === 'string' ? content : packText(content));
  renameSync(`${path}.new`, path);
}

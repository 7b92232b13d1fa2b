import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Plugin } from 'vite';
import { z } from 'zod';
import { ROOT } from './conformance-rows.js';

/**
 * Behaviors taken out of the service, one at a time, each with the test that must then fail: what no test would miss is
 * held by none.
 */
const edit = {
  file: z.string().regex(/^src\//),
  /** Stands exactly once in the file. */
  text: z.string().min(3),
  instead: z.string(),
};

const removal = z.strictObject({
  /** The row of the conformance list it belongs to; none where it is our own. */
  row: z.string().optional(),
  /** The behavior that is gone. */
  without: z.string().min(10),
  ...edit,
  /** What holds the same behavior a second time, and goes with it. */
  also: z.array(z.strictObject(edit)).optional(),
  test: z.strictObject({ file: z.string(), title: z.string() }),
});

export type Removal = z.infer<typeof removal>;

export function readRemovals(): readonly Removal[] {
  const text = readFileSync(new URL('removals.json', import.meta.url), 'utf8');
  return z.strictObject({ note: z.string(), removals: z.array(removal) }).parse(JSON.parse(text)).removals;
}

export type Edit = Pick<Removal, 'file' | 'text' | 'instead'>;

export function editsOf({ file, text, instead, also = [] }: Removal): readonly Edit[] {
  return [{ file, text, instead }, ...also];
}

/** How often the text of an edit stands in its file: anything but once makes it none. */
export function occurrences({ file, text }: Edit): number {
  return readFileSync(join(ROOT, file), 'utf8').split(text).length - 1;
}

/** Takes the behavior out while the files are loaded; the files themselves stay as they are. */
export function removing(one: Removal): Plugin {
  return {
    name: 'kotyle-removal',
    enforce: 'pre',
    transform: (code, id) => {
      const edits = editsOf(one).filter(({ file }) => id.split('?')[0] === join(ROOT, file));
      if (edits.length === 0) return undefined;
      return { code: edits.reduce(edited, code), map: null };
    },
  };
}

function edited(code: string, { file, text, instead }: Edit): string {
  if (!code.includes(text)) throw new Error(`${file} does not hold ${text}`);
  return code.replace(text, () => instead);
}

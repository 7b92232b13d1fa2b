import { readFileSync, statSync } from 'node:fs';
import { CallError } from './io.js';

/** Reads what a call names: a file, or standard input for `-`. CallError says what is wrong with it. */
export type ReadInput = (path: string) => Promise<string>;

export const readInput: ReadInput = async (path) =>
  path === '-' ? await readStandardInput() : readTextFile(path);

/** Reads a file of text; CallError when there is none. */
export function readTextFile(path: string, what = 'a file'): string {
  const found = statSync(path, { throwIfNoEntry: false });
  if (!found) throw new CallError(`expected ${what}, found nothing at ${path}`);
  if (found.isDirectory()) throw new CallError(`expected ${what}, found a folder at ${path}`);
  try {
    return readFileSync(path, 'utf8');
  } catch (error) {
    const code = error instanceof Error && 'code' in error ? String(error.code) : 'no reason given';
    throw new CallError(`could not read ${path}: ${code}`, undefined, { cause: error });
  }
}

async function readStandardInput(): Promise<string> {
  if (process.stdin.isTTY)
    throw new CallError(
      'expected a Bundle on standard input, found a terminal',
      'kotyle evaluate - < bundle.json',
    );
  const chunks: Buffer[] = [];
  for await (const chunk of process.stdin) chunks.push(chunk as Buffer);
  return Buffer.concat(chunks).toString('utf8');
}

import { closeSync, fsyncSync, openSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { basename, dirname, join } from 'node:path';
import { CallError } from './io.js';

const unfinished = new Set<string>();

/**
 * Writes a file whole or not at all: into a temporary file beside it, which then takes its name. What is no file
 * (a device, a pipe) is written to as it is. Throws CallError when it can't be written.
 */
export function writeWhole(path: string, content: string | Uint8Array): void {
  try {
    if (isSpecial(path)) {
      writeFileSync(path, content);
      return;
    }
    const temporary = temporaryBeside(path);
    try {
      const file = openSync(temporary, 'wx');
      try {
        writeFileSync(file, content);
        fsyncSync(file);
      } finally {
        closeSync(file);
      }
      renameSync(temporary, path);
    } finally {
      rmSync(temporary, { force: true });
      unfinished.delete(temporary);
    }
  } catch (error) {
    throw writeFault(path, error);
  }
}

/** A name for a file being written beside `path`; it is removed when the command ends before it was renamed. */
export function temporaryBeside(path: string): string {
  const temporary = join(dirname(path), `.${basename(path)}.${process.pid}.part`);
  unfinished.add(temporary);
  return temporary;
}

/** Removes what was being written: for a command that is stopped. */
export function removeUnfinished(): void {
  for (const path of unfinished) rmSync(path, { force: true });
}

/** A device or a pipe takes what is written and can't be renamed over. */
function isSpecial(path: string): boolean {
  const found = statSync(path, { throwIfNoEntry: false });
  if (found?.isDirectory() === true)
    throw new CallError(`expected the name of a file to write, found a folder at ${path}`);
  return found !== undefined && !found.isFile();
}

/** A fault of writing a file, in plain words. */
export function writeFault(path: string, error: unknown): CallError {
  if (error instanceof CallError) return error;
  const message = `could not write ${path}: ${whyNotWritten(error)}; nothing was left half-written`;
  return new CallError(message, undefined, { cause: error });
}

export function whyNotWritten(error: unknown): string {
  const code = error instanceof Error && 'code' in error ? String(error.code) : 'no reason given';
  return WHY[code] ?? code;
}

const WHY: Readonly<Record<string, string>> = {
  ENOENT: 'its folder does not exist',
  ENOTDIR: 'its folder is a file',
  EACCES: 'no permission',
  EPERM: 'no permission',
  EROFS: 'the disk can only be read',
  ENOSPC: 'the disk is full',
  EDQUOT: 'the quota is used up',
  EFBIG: 'the file would be larger than is allowed',
};

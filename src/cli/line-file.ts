import { closeSync, fsyncSync, openSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { CallError } from './io.js';
import { temporaryBeside, writeFault } from './output.js';

/** Text kept before it is written: large enough that writing costs little, small enough to hold many files open. */
const CHUNK_CHARACTERS = 262_144;

/**
 * A file written line by line, whole or not at all: into a temporary file, which takes its name at the end. What is no
 * file (a device, a pipe) is written to as it is. Throws CallError when it can't be written.
 */
export class LineFile {
  readonly #file: number;
  readonly #temporary: string | undefined;
  #chunk = '';
  #isOpen = true;
  lines = 0;

  /** The temporary file is made beside `beside`, which must be on the same disk as `path`; `mode` as for `open`. */
  constructor(
    readonly path: string,
    beside: string = path,
    mode = 0o666,
  ) {
    try {
      const found = statSync(path, { throwIfNoEntry: false });
      if (found?.isDirectory() === true)
        throw new CallError(`expected the name of a file to write, found a folder at ${path}`);
      this.#temporary = found === undefined || found.isFile() ? temporaryBeside(beside) : undefined;
      this.#file = openSync(this.#temporary ?? path, this.#temporary === undefined ? 'w' : 'wx', mode);
    } catch (error) {
      throw writeFault(path, error);
    }
  }

  add(line: string): void {
    this.lines += 1;
    this.#chunk += `${line}\n`;
    if (this.#chunk.length >= CHUNK_CHARACTERS) this.#write();
  }

  /** Writes what is left and lets the disk confirm it; the name is given by `name()`. */
  close(): void {
    this.#write();
    try {
      if (this.#temporary !== undefined) fsyncSync(this.#file);
      this.#close();
    } catch (error) {
      throw this.#fault(error);
    }
  }

  /** Gives the closed file its name. */
  name(): void {
    try {
      if (this.#temporary !== undefined) renameSync(this.#temporary, this.path);
    } catch (error) {
      throw this.#fault(error);
    }
  }

  /** Leaves nothing behind. */
  discard(): void {
    this.#close();
    if (this.#temporary !== undefined) rmSync(this.#temporary, { force: true });
  }

  #write(): void {
    try {
      writeFileSync(this.#file, this.#chunk);
    } catch (error) {
      throw this.#fault(error);
    }
    this.#chunk = '';
  }

  #close(): void {
    if (!this.#isOpen) return;
    this.#isOpen = false;
    closeSync(this.#file);
  }

  #fault(error: unknown): Error {
    return writeFault(this.path, error);
  }
}

import { mkdirSync, readdirSync, rmSync, statSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { objectsIn } from '../fhir/json.js';
import { asObject, asText } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { CallError } from './io.js';
import { LineFile } from './line-file.js';
import { writeFault } from './output.js';

/**
 * A folder of FHIR Bulk NDJSON: one file for each type of resource, one resource a line. Nothing is there under its
 * name before everything is written. Throws CallError when the folder is taken or can't be written.
 */
export class BulkFolder {
  readonly #files = new Map<string, LineFile>();
  readonly #isNew: boolean;
  readonly #folder: string;

  constructor(readonly path: string) {
    this.#folder = resolve(path);
    this.#isNew = isNewFolder(path);
  }

  get files(): readonly LineFile[] {
    return [...this.#files.values()];
  }

  /** Adds the resources of a bundle. */
  add(bundle: JsonObject): void {
    for (const entry of objectsIn(bundle['entry'])) {
      const resource = asObject(entry['resource']);
      const type = asText(resource?.['resourceType']);
      if (type !== undefined) this.#fileOf(type).add(JSON.stringify(resource));
    }
  }

  finish(): void {
    for (const file of this.files) file.close();
    if (this.#isNew) this.#make();
    try {
      for (const file of this.files) file.name();
    } catch (error) {
      if (this.#isNew) rmSync(this.#folder, { recursive: true, force: true });
      throw error;
    }
  }

  discard(): void {
    for (const file of this.files) file.discard();
  }

  #fileOf(type: string): LineFile {
    const known = this.#files.get(type);
    if (known) return known;
    const path = join(this.#folder, `${type}.ndjson`);
    // A folder still to be made has its files beside it until they are whole.
    const file = new LineFile(path, this.#isNew ? `${this.#folder}.${type}.ndjson` : path);
    this.#files.set(type, file);
    return file;
  }

  #make(): void {
    try {
      mkdirSync(this.#folder);
    } catch (error) {
      throw writeFault(this.path, error);
    }
  }
}

function isNewFolder(path: string): boolean {
  const found = statSync(path, { throwIfNoEntry: false });
  if (!found) return true;
  if (!found.isDirectory())
    throw new CallError(
      `--out: expected a folder for one file of each resource type, found a file at ${path}`,
    );
  const entries = readdirSync(path).length;
  if (entries > 0)
    throw new CallError(
      `--out: expected a new or empty folder, found ${entries} entries in ${path}`,
      'name another folder, or empty this one',
    );
  return false;
}

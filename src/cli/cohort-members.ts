import { createReadStream, readdirSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { setImmediate } from 'node:timers/promises';
import { readPatientBundle } from '../workbench/evaluate/read-bundle.js';
import type { CohortMember } from '../workbench/report/cohort.js';
import { PROFILES, synthesizeHips } from '../workbench/synthesize/synthesize-hips.js';
import type { Profile } from '../workbench/synthesize/synthesize-hips.js';
import { CallError } from './io.js';

/** Where the members of a cohort come from, one after another. */
export interface CohortSource {
  /** In words, for the report. */
  readonly over: string;
  /** How many, where that is known before. */
  readonly total?: number;
  readonly members: () => AsyncGenerator<CohortMember, void, undefined>;
}

const SYNTHETIC = /^synthetic:([^:]+):([^:]+):([^:]+)$/;

/** A folder of Bundles, a file with one Bundle a line, or a synthetic population; CallError when it is none of them. */
export function cohortSource(source: string): CohortSource {
  if (source.startsWith('synthetic:')) return syntheticSource(source, '--cohort');
  const found = statSync(source, { throwIfNoEntry: false });
  if (!found)
    throw new CallError(
      `--cohort: expected a folder, a file with one Bundle a line, or synthetic:<profile>:<count>:<seed>, found nothing at ${source}`,
    );
  return found.isDirectory() ? folderSource(source) : lineSource(source);
}

/** A synthetic population; CallError in the name of the option it was given by when it is none. */
export function syntheticSource(source: string, option: string): CohortSource {
  const [, name = '', countText = '', seedText = ''] = SYNTHETIC.exec(source) ?? [];
  const profile = PROFILES.find((known): known is Profile => known === name);
  const isWhole = (text: string): boolean => /^\d{1,12}$/.test(text);
  if (profile === undefined || !isWhole(countText) || !isWhole(seedText) || Number(countText) === 0)
    throw new CallError(
      `${option}: expected synthetic:<profile>:<count>:<seed> with profile ${PROFILES.join(' or ')} and whole numbers, found ${source}`,
      'synthetic:record-like:1000:1',
    );
  const [count, seed] = [Number(countText), Number(seedText)];
  return {
    over: `${count} synthetic hips (${profile}, seed ${seed}): invented, nobody's data`,
    total: count,
    members: async function* () {
      for (const { id, bundle } of synthesizeHips({ seed, count, profile })) {
        yield { where: id, bundle };
        // A look at the world between two patients: Ctrl-C, the end of a pipe.
        await setImmediate();
      }
    },
  };
}

function folderSource(folder: string): CohortSource {
  const files = readdirSync(folder, { withFileTypes: true })
    .flatMap((entry) => {
      if (entry.isFile() && entry.name.endsWith('.json')) return [entry.name];
      const inner = join(entry.name, 'bundle.json');
      return entry.isDirectory() && statSync(join(folder, inner), { throwIfNoEntry: false })?.isFile()
        ? [inner]
        : [];
    })
    .sort();
  if (files.length === 0)
    throw new CallError(
      `--cohort: expected Bundles in ${folder} (*.json, or */bundle.json), found none`,
      'one file for each patient, or one file with one Bundle a line (.ndjson)',
    );
  return {
    over: `the ${files.length} Bundles in ${folder}`,
    total: files.length,
    members: async function* () {
      for (const file of files) {
        yield memberFrom(readFileSync(join(folder, file), 'utf8'), file);
        await setImmediate();
      }
    },
  };
}

function lineSource(file: string): CohortSource {
  return {
    over: `the Bundles in ${file}`,
    members: async function* () {
      let number = 0;
      for await (const line of createInterface({ input: createReadStream(file), crlfDelay: Infinity })) {
        number += 1;
        if (line.trim() === '') continue;
        yield memberFrom(line, `line ${number}`);
        await setImmediate();
      }
    },
  };
}

function memberFrom(text: string, where: string): CohortMember {
  const read = readPatientBundle(text, where);
  return read.ok ? { where, bundle: read.bundle } : { where, why: read.message.slice(`${where}: `.length) };
}

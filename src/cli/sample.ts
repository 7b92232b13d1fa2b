import { createReadStream, readdirSync, readFileSync, statSync } from 'node:fs';
import { basename, join } from 'node:path';
import { createInterface } from 'node:readline';
import { setImmediate } from 'node:timers/promises';
import type { EvaluationSetting } from '../advice/hook-inputs.js';
import type { SampleMember } from '../workbench/readiness/sample-member.js';
import { syntheticSource } from './cohort-members.js';
import { CallError } from './io.js';
import { membersOfBundle, sampleMember } from './sample-member.js';

/** Where a sample comes from: recorded hook calls, patients kept as Bundles, or both. */
export interface SampleSource {
  /** In words, for the report; names a file and no folder, which may tell of people. */
  readonly over: string;
  /** How many, where that is known before. */
  readonly total?: number;
  readonly members: (setting: EvaluationSetting) => AsyncGenerator<SampleMember, void, undefined>;
}

/**
 * A folder of files with one call or Bundle each or one a line (.ndjson), such a file alone, or a synthetic population.
 * CallError when it is none of them.
 */
export function sampleSource(source: string): SampleSource {
  if (source.startsWith('synthetic:')) return syntheticSample(source);
  const found = statSync(source, { throwIfNoEntry: false });
  if (!found)
    throw new CallError(
      `--sample: expected a folder, a file with one hook call or Bundle a line, or synthetic:<profile>:<count>:<seed>, found nothing at ${source}`,
    );
  if (!found.isDirectory())
    return {
      over: `the lines of ${basename(source)}`,
      members: (setting) => fileMembers(source, '', setting),
    };
  const files = filesIn(source);
  if (files.length === 0)
    throw new CallError(
      `--sample: expected hook calls or Bundles in ${source} (*.json, */bundle.json, *.ndjson), found none`,
    );
  return {
    over: `the ${files.length} files in ${basename(source)}`,
    ...(files.every((file) => file.endsWith('.json')) && { total: files.length }),
    members: async function* (setting) {
      for (const file of files) yield* fileMembers(join(source, file), file, setting);
    },
  };
}

function syntheticSample(source: string): SampleSource {
  const { over, total, members } = syntheticSource(source, '--sample');
  return {
    over,
    ...(total !== undefined && { total }),
    members: async function* (setting) {
      for await (const member of members())
        yield 'why' in member ? member : membersOfBundle(member.bundle, member.where, setting);
    },
  };
}

function filesIn(folder: string): readonly string[] {
  return readdirSync(folder, { withFileTypes: true })
    .flatMap((entry) => {
      if (entry.isFile()) return /\.(?:json|ndjson)$/.test(entry.name) ? [entry.name] : [];
      const inner = join(entry.name, 'bundle.json');
      return entry.isDirectory() && statSync(join(folder, inner), { throwIfNoEntry: false })?.isFile()
        ? [inner]
        : [];
    })
    .sort();
}

async function* fileMembers(
  path: string,
  name: string,
  setting: EvaluationSetting,
): AsyncGenerator<SampleMember, void, undefined> {
  if (path.endsWith('.json')) {
    yield sampleMember(readFileSync(path, 'utf8'), name === '' ? basename(path) : name, setting);
    await setImmediate();
    return;
  }
  let number = 0;
  for await (const line of createInterface({ input: createReadStream(path), crlfDelay: Infinity })) {
    number += 1;
    if (line.trim() === '') continue;
    yield sampleMember(line, `${name === '' ? '' : `${name}, `}line ${number}`, setting);
    // A look at the world between two members: Ctrl-C, the end of a pipe.
    await setImmediate();
  }
}

import { contentHash } from '../../base/hash.js';
import type { Pack } from '../../rulebook/pack.js';
import type { ParsedPack } from '../../rulebook/parse-pack.js';
import { faultsOf } from './finding.js';
import type { Fault } from './finding.js';

/**
 * Whether a rulebook may stand beside what was released of it: a rule whose file differs from the released one has
 * another version, files of a released version are those released, and no rule is newer than the rulebook's date.
 */
export function checkRelease(
  { about, rules }: ParsedPack,
  pack: Pack,
  released: Pack | undefined,
): readonly Fault[] {
  return faultsOf('release', (report) => {
    const date = about?.value.date;
    for (const { file, value } of rules) {
      const newest = [value.released ?? '', ...(value.revised ?? [])].sort().at(-1) ?? '';
      if (date !== undefined && newest > date)
        report(file, 'released', `no later than the rulebook, ${date}`, newest);
    }
    if (!released) return;
    const before = new Map(released.files.map(({ path, content }) => [path, content]));
    for (const { file, value } of rules) {
      const old = before.get(file);
      const now = pack.files.find(({ path }) => path === file)?.content;
      if (old !== undefined && versionOf(old) === value.version && contentHash(old) !== contentHash(now))
        report(file, 'version', 'a new version of a rule that changed since its release', value.version);
    }
    const version = versionOf(before.get('rulebook.json'));
    if (version === about?.value.version && contentHash(filesOf(released)) !== contentHash(filesOf(pack)))
      report(
        'rulebook.json',
        'version',
        'a new version, as files differ from those released',
        String(version),
      );
  });
}

function versionOf(content: unknown): unknown {
  return typeof content === 'object' && content !== null && 'version' in content
    ? content.version
    : undefined;
}

function filesOf({ files }: Pack): Readonly<Record<string, unknown>> {
  return Object.fromEntries(files.map(({ path, content }) => [path, content]));
}

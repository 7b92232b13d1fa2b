import type { ParsedPack } from '../../rulebook/parse-pack.js';
import { faultsOf } from './finding.js';
import type { Fault } from './finding.js';

/**
 * Whether some test patient expects a card of each rule that has cards; what else they cover, and that a rule only the
 * page tells is met by some, is found by running them.
 */
export function checkPatients(parsed: ParsedPack, expectedRules: ReadonlySet<string>): readonly Fault[] {
  return faultsOf('patients', (report) => {
    for (const { file, value } of parsed.rules)
      if (value.tells === undefined && !expectedRules.has(value.id))
        report(file, 'id', 'a test patient who gets its card', 'none');
  });
}

import type { ParsedPack } from '../../rulebook/parse-pack.js';
import { faultsOf } from './finding.js';
import type { Fault } from './finding.js';

/** Whether some test patient expects a card of each rule; what else they cover is found by running them. */
export function checkPatients(parsed: ParsedPack, expectedRules: ReadonlySet<string>): readonly Fault[] {
  return faultsOf('patients', (report) => {
    for (const { file, value } of parsed.rules)
      if (!expectedRules.has(value.id)) report(file, 'id', 'a test patient who gets its card', 'none');
  });
}

import type { Command } from 'commander';
import { countDifferences, differencesText } from '../../workbench/candidate/difference-counts.js';
import type { Io } from '../io.js';
import { keptStore } from '../kept-store.js';

interface DifferencesOptions {
  readonly store: string;
  readonly json?: true;
}

/** Adds `differences`: what a candidate rulebook in the shadow would have done otherwise. */
export function differencesCommand(program: Command, io: Io): void {
  program
    .command('differences')
    .description('count what a candidate rulebook in the shadow of a service would have done otherwise')
    .requiredOption('--store <file|url>', 'what the service has kept: a SQLite file or a PostgreSQL URL')
    .option('--json', 'one JSON document on standard output')
    .addHelpText(
      'after',
      `
A service with KOTYLE_CANDIDATE answers every call again with that rulebook and keeps only what differs; how many calls
were compared, dropped or failed is among its metrics (kotyle_shadow_total). The exit code is 1 when anything differs.

Example:
  kotyle differences --store kotyle.sqlite`,
    )
    .action(async ({ store, json }: DifferencesOptions) => {
      const kept = await keptStore(store);
      try {
        const counts = await countDifferences(kept.differences());
        io.out(json ? `${JSON.stringify(counts, undefined, 2)}\n` : differencesText(counts));
        io.setExitCode(counts.length > 0 ? 1 : 0);
      } finally {
        await kept.close();
      }
    });
}

import type { Command } from 'commander';
import type { Io } from '../io.js';
import { settings, withStore } from '../kept-store.js';

/** Adds `prune`: removes what is past its time, as the service does every hour. */
export function pruneCommand(program: Command, io: Io): void {
  program
    .command('prune')
    .description(
      'remove what is past its time: contents, comments, remembered tokens, and records where they have one',
    )
    .addHelpText(
      'after',
      '\nThe service does the same every hour. Times are set by KOTYLE_KEEP_CONTENT_HOURS and KOTYLE_KEEP_RECORD_DAYS; the store is KOTYLE_STORE.\n\nExample:\n  kotyle prune',
    )
    .action(async () => {
      const pruned = await withStore(settings(), io, (store) => store.prune(new Date()));
      const told = Object.entries(pruned).map(([what, count]) => `${count} ${what}`);
      io.out(`removed: ${told.join(', ')}\n`);
      io.setExitCode(0);
    });
}

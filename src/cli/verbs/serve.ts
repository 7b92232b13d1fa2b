import type { Command } from 'commander';
import { readConfig } from '../../server/config.js';
import { followSignals } from '../../server/operations/signals.js';
import { startService } from '../../server/serve.js';
import { CallError } from '../io.js';
import type { Io } from '../io.js';

/** Adds `serve`: starts the service and lets it run until it is told to end. */
export function serveCommand(program: Command, io: Io): void {
  program
    .command('serve')
    .description('start the CDS Hooks service; it is set by KOTYLE_ variables of the environment')
    .addHelpText('after', '\nExample:\n  KOTYLE_PORT=3000 kotyle serve')
    .action(async () => {
      const starting = start();
      followSignals(starting);
      const { url } = await starting;
      io.err(`serving on ${url}/cds-services until Ctrl-C\n`);
    });
}

async function start(): ReturnType<typeof startService> {
  try {
    return await startService(readConfig(process.env));
  } catch (error) {
    if (!(error instanceof Error)) throw error;
    throw new CallError(error.message, 'the settings stand in src/server/DEPLOYMENT.md', { cause: error });
  }
}

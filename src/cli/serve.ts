import { readConfig } from '../server/config.js';
import { followSignals } from '../server/operations/signals.js';
import { startService } from '../server/serve.js';

try {
  const starting = startService(readConfig(process.env));
  followSignals(starting);
  await starting;
} catch (error) {
  // A fault of the settings is for whoever set them; where in the program it was found is not.
  process.stderr.write(`not started: ${error instanceof Error ? error.message : 'unknown'}\n`);
  process.exit(1);
}

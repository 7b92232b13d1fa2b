import { readConfig } from '../../dist/server/config.js';
import { startService } from '../../dist/server/serve.js';

/** The service as `npm start` runs it, from dist, on a free port. */
const service = await startService(readConfig({ KOTYLE_PORT: '0', KOTYLE_LOG_LEVEL: 'silent' }));
process.stdout.write(`${new URL(service.url).port}\n`);

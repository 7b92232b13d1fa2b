import { readConfig } from '../server/config.js';
import { startService } from '../server/serve.js';

const service = await startService(readConfig(process.env));
for (const signal of ['SIGINT', 'SIGTERM'] as const) process.once(signal, () => void service.stop());

import { readConfig } from '../server/config.js';

/** Ends with 0 when the service of these settings answers that it lives, on this machine; with 1 when it does not. */
const { host, port } = readConfig(process.env);
const asked = ['0.0.0.0', '::'].includes(host) ? '127.0.0.1' : host;
const url = `http://${asked.includes(':') ? `[${asked}]` : asked}:${port}/health`;
const lives = await fetch(url, { signal: AbortSignal.timeout(2000) }).then(
  ({ ok }) => ok,
  () => false,
);
process.exitCode = lives ? 0 : 1;

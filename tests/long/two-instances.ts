import { rmSync } from 'node:fs';
import { cpus } from 'node:os';
import { POSTGRES_BIN, startPostgres } from '../postgres/postgres-server.js';
import { bundleService } from '../server/bundled-service.js';
import { runInstances } from '../server/two-instances.js';

/**
 * Throughput of one and of two processes on one PostgreSQL of this machine, each call answered after its record was
 * durable (`KOTYLE_AUDIT=required`), and whether anything was lost or doubled. Needs KOTYLE_POSTGRES_BIN;
 * KOTYLE_INSTANCE_CALLS calls (2000) are sent to each constellation. Ends with 1 when something was.
 */
const CALLS = Number(process.env['KOTYLE_INSTANCE_CALLS'] ?? 2000);

if (POSTGRES_BIN === undefined)
  throw new Error('KOTYLE_POSTGRES_BIN: expected a folder with PostgreSQL, found none');
const server = await startPostgres();
const bundled = await bundleService();
try {
  process.stdout.write(
    `${cpus().length} processors, ${cpus()[0]?.model ?? 'unknown'}, Node ${process.version}\n`,
  );
  for (const instances of [1, 2]) {
    const store = await server.newDatabase();
    const outcome = await runInstances({ bundled, store, instances, calls: CALLS, answers: CALLS });
    const { answered, records, distinct, kept, verification } = outcome;
    const isWhole =
      [answered, records, distinct, kept].every((count) => count === CALLS) &&
      verification.breaks.length === 0;
    process.stdout.write(
      `${instances} ${instances === 1 ? 'process' : 'processes'}: ${outcome.callsPerSecond.toFixed(0)} calls/s, ${outcome.answersPerSecond.toFixed(0)} answers/s; ${answered} calls answered, ${records} records of ${distinct} calls, ${kept} answers kept, ${verification.entries} entries of ${verification.writers} chains, ${isWhole ? 'nothing lost or doubled' : 'SOMETHING LOST OR DOUBLED'}\n`,
    );
    if (!isWhole) process.exitCode = 1;
  }
} finally {
  await server.stop();
  rmSync(bundled, { recursive: true });
}

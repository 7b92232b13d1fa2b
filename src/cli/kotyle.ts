#!/usr/bin/env node
import { terminalIo } from './io.js';
import { removeUnfinished, whyNotWritten } from './output.js';
import { runCommand } from './program.js';
import { VERBS } from './verbs.js';

const args = process.argv.slice(2);

process.on('exit', removeUnfinished);
// Whoever reads the output may stop reading, such as `head`.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  if (error.code === 'EPIPE') process.exit();
  process.stderr.write(`kotyle: could not write standard output: ${whyNotWritten(error)}\n`);
  process.exit(2);
});
// The service ends by itself when told; everything else stops where it is.
if (args[0] !== 'serve')
  process.once('SIGINT', () => {
    process.stderr.write('\nkotyle: stopped; nothing was left half-written\n');
    process.exit(130);
  });

await runCommand(args, terminalIo(), VERBS);

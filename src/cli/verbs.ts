import type { AddVerb } from './program.js';
import { checkCommand } from './verbs/check.js';
import { evaluateCommand } from './verbs/evaluate.js';
import { explainCommand } from './verbs/explain.js';
import { mutateCommand } from './verbs/mutate.js';
import { packCommand } from './verbs/pack.js';
import { serveCommand } from './verbs/serve.js';
import { synthesizeCommand } from './verbs/synthesize.js';
import { trialCommand } from './verbs/trial.js';

/** Every verb of the command, in the order in which help lists them. */
export const VERBS: readonly AddVerb[] = [
  serveCommand,
  evaluateCommand,
  explainCommand,
  checkCommand,
  trialCommand,
  mutateCommand,
  synthesizeCommand,
  packCommand,
];

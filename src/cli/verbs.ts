import type { AddVerb } from './program.js';
import { checkCommand } from './verbs/check.js';
import { differencesCommand } from './verbs/differences.js';
import { evaluateCommand } from './verbs/evaluate.js';
import { explainCommand } from './verbs/explain.js';
import { exportCommand } from './verbs/export.js';
import { forgetCommand } from './verbs/forget.js';
import { mutateCommand } from './verbs/mutate.js';
import { packCommand } from './verbs/pack.js';
import { pruneCommand } from './verbs/prune.js';
import { readinessCommand } from './verbs/readiness.js';
import { replayCommand } from './verbs/replay.js';
import { serveCommand } from './verbs/serve.js';
import { signCommand } from './verbs/sign.js';
import { synthesizeCommand } from './verbs/synthesize.js';
import { trialCommand } from './verbs/trial.js';
import { unmappedCommand } from './verbs/unmapped.js';
import { verifyCommand } from './verbs/verify.js';

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
  readinessCommand,
  unmappedCommand,
  differencesCommand,
  signCommand,
  exportCommand,
  verifyCommand,
  replayCommand,
  forgetCommand,
  pruneCommand,
];

import { setPriority } from 'node:os';
import { parentPort, workerData } from 'node:worker_threads';
import { advise, COMPUTATION_IDS, newAdvisor } from '../../advice/index.js';
import type { Advisor } from '../../advice/index.js';
import { asObject } from '../../fhir/json.js';
import { buildRulebook } from '../../rulebook/build.js';
import type { Site } from '../../rulebook/site.js';
import { answeredOf } from './answered.js';
import { differencesBetween } from './compare-answers.js';
import type { CallMessage, CandidateKnowledge, FromCandidate, ToCandidate } from './shadow-message.js';

/**
 * The thread of a candidate rulebook: answers every call it is given as the service would and tells what differs. It
 * has no environment, no keys and no store. Whatever goes wrong in here ends here.
 */

/** Behind the service while it starts, which takes long; then only what nobody else needs, so that no caller waits for it. */
const STARTING = 10;
const ANSWERING = 19;

/** On Linux this is the priority of the calling thread alone; elsewhere it would be that of the whole service. */
function stepBack(priority: number): void {
  if (process.platform === 'linux') setPriority(0, priority);
}

const utf8 = new TextDecoder();

function candidateAdvisor({ pack, hash }: CandidateKnowledge): Advisor {
  const built = buildRulebook(pack, COMPUTATION_IDS);
  if (!built.ok || built.rulebook.hash !== hash)
    throw new Error('the candidate is not what was checked at the start');
  return newAdvisor(built.rulebook);
}

async function compared(call: CallMessage, advisor: Advisor, site: Site | undefined): Promise<FromCandidate> {
  try {
    const sent = asObject(JSON.parse(utf8.decode(call.body))) ?? {};
    const input = {
      ...call.input,
      context: call.isCompleted ? call.input.context : (asObject(sent['context']) ?? {}),
      prefetch: asObject(sent['prefetch']) ?? {},
      ...(site && { site }),
    };
    const would = answeredOf(await advise(input, advisor));
    return { kind: 'compared', differences: differencesBetween(call.answered, would) };
  } catch (error) {
    // The name of the error and nothing of its message, which may quote a patient.
    return { kind: 'failed', what: error instanceof Error ? error.name : 'unknown' };
  }
}

function listen(advisor: Advisor): void {
  const port = parentPort;
  if (!port) throw new Error('a candidate runs in a thread of its own');
  const say = (message: FromCandidate): void => port.postMessage(message);
  let site: Site | undefined;
  port.on('message', (message: ToCandidate) => {
    if (message.kind === 'site') site = message.site;
    else void compared(message, advisor, site).then(say);
  });
  stepBack(ANSWERING);
  say({ kind: 'ready' });
}

stepBack(STARTING);
listen(candidateAdvisor(workerData as CandidateKnowledge));

import { Worker } from 'node:worker_threads';
import type { Candidate } from './load-candidate.js';
import type { CandidateKnowledge, FromCandidate, ToCandidate } from './shadow-message.js';

/** How a candidate's thread is started, and what it may use. */
export interface ThreadSettings {
  readonly entry: URL;
  /** Options of node for the thread; none where it runs what was built. */
  readonly execArgv: readonly string[];
  /** Memory of its own; beyond it the thread ends, and nothing else does. */
  readonly memoryMb: number;
}

export const THREAD: ThreadSettings = {
  entry: new URL('./candidate-worker.js', import.meta.url),
  execArgv: [],
  memoryMb: 512,
};

export interface ThreadListener {
  readonly said: (message: FromCandidate) => void;
  /** Once: the thread is gone, for whatever reason. */
  readonly ended: (why: string) => void;
}

/** One run of the thread in which a candidate answers. It never throws at whoever started it. */
export class CandidateThread {
  readonly #worker: Worker;
  #why: string | undefined;
  #hasEnded = false;

  constructor({ pack, hash }: Candidate, settings: ThreadSettings, listener: ThreadListener) {
    const knowledge: CandidateKnowledge = { pack, hash };
    this.#worker = new Worker(settings.entry, {
      workerData: knowledge,
      // Keys and addresses of the service are none of its business.
      env: {},
      execArgv: [...settings.execArgv],
      resourceLimits: { maxOldGenerationSizeMb: settings.memoryMb },
      // What it prints could tell of a patient, and goes nowhere.
      stdout: true,
      stderr: true,
    });
    this.#worker.stdout.resume();
    this.#worker.stderr.resume();
    this.#worker.unref();
    this.#worker.on('message', (message: FromCandidate) => {
      if (!this.#hasEnded) listener.said(message);
    });
    this.#worker.on('error', (error: NodeJS.ErrnoException) => {
      this.#why ??= error.code ?? error.name;
    });
    this.#worker.on('exit', () => {
      if (this.#hasEnded) return;
      this.#hasEnded = true;
      listener.ended(this.#why ?? 'ended by itself');
    });
  }

  /** Throws when the message cannot be copied to another thread. */
  post(message: ToCandidate): void {
    this.#worker.postMessage(message);
  }

  /** Ends it, even in the middle of a loop; `ended` is told of it. */
  stop(why: string): void {
    this.#why ??= why;
    void this.#worker.terminate();
  }

  /** Ends it without a word to anybody. */
  async discard(): Promise<void> {
    this.#hasEnded = true;
    await this.#worker.terminate();
  }
}

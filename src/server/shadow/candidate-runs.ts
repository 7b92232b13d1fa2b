import type { Site } from '../../rulebook/site.js';
import { CandidateThread, THREAD } from './candidate-thread.js';
import type { ThreadSettings } from './candidate-thread.js';
import type { Candidate } from './load-candidate.js';
import type { CallMessage, FromCandidate } from './shadow-message.js';

export interface RunSettings {
  readonly thread: ThreadSettings;
  /** How long one call may take; it gets what time nobody else needs, so this is generous. */
  readonly timeLimitMs: number;
  readonly startLimitMs: number;
  /** Pause before the thread is started anew: doubled each time, up to the longest. */
  readonly firstPauseMs: number;
  readonly longestPauseMs: number;
}

export const RUNS: RunSettings = {
  thread: THREAD,
  timeLimitMs: 30_000,
  startLimitMs: 60_000,
  firstPauseMs: 1_000,
  longestPauseMs: 60_000,
};

/** What came of asking a candidate. */
export type CandidateSaid = Exclude<FromCandidate, { kind: 'ready' }> | { readonly kind: 'timed-out' };

export interface RunsListener {
  readonly started: () => void;
  readonly stopped: (why: string) => void;
}

interface Asked {
  readonly call: CallMessage;
  readonly site: Site | undefined;
  readonly settle: (said: CandidateSaid) => void;
  isSent: boolean;
}

const TIMED_OUT = 'timed out';

/**
 * Keeps a candidate's thread running: one call at a time, each within its limit. A thread that loops, throws or takes
 * too much memory is ended and started anew after a pause, and the call it had is given up.
 */
export class CandidateRuns {
  readonly #candidate: Candidate;
  readonly #settings: RunSettings;
  readonly #listener: RunsListener;
  #thread: CandidateThread | undefined;
  #isReady = false;
  #isClosed = false;
  #asked: Asked | undefined;
  /** The installation the thread knows of; undefined while it knows of none. */
  #told: { readonly site: Site | undefined } | undefined;
  #timer: NodeJS.Timeout | undefined;
  #pauseMs: number;

  constructor(candidate: Candidate, settings: RunSettings, listener: RunsListener) {
    this.#candidate = candidate;
    this.#settings = settings;
    this.#listener = listener;
    this.#pauseMs = settings.firstPauseMs;
    this.#start();
  }

  /** Asks the candidate; waits while its thread is starting. One question at a time. Never rejects. */
  ask(call: CallMessage, site: Site | undefined): Promise<CandidateSaid> {
    return new Promise((settle) => {
      this.#asked = { call, site, settle, isSent: false };
      this.#send();
    });
  }

  async close(): Promise<void> {
    this.#isClosed = true;
    clearTimeout(this.#timer);
    this.#settle({ kind: 'failed', what: 'closed' });
    await this.#thread?.discard();
  }

  #start(): void {
    if (this.#isClosed) return;
    this.#thread = new CandidateThread(this.#candidate, this.#settings.thread, {
      said: (message) => this.#said(message),
      ended: (why) => this.#ended(why),
    });
    this.#limit(this.#settings.startLimitMs);
  }

  #send(): void {
    const asked = this.#asked;
    if (!asked || asked.isSent || !this.#isReady) return;
    try {
      if (this.#told?.site !== asked.site || !this.#told) {
        this.#thread?.post({ kind: 'site', site: asked.site });
        this.#told = { site: asked.site };
      }
      this.#thread?.post(asked.call);
    } catch (error) {
      this.#settle({ kind: 'failed', what: error instanceof Error ? error.name : 'unknown' });
      return;
    }
    asked.isSent = true;
    this.#limit(this.#settings.timeLimitMs);
  }

  #said(message: FromCandidate): void {
    clearTimeout(this.#timer);
    if (message.kind === 'ready') {
      this.#isReady = true;
      this.#listener.started();
      this.#send();
      return;
    }
    this.#pauseMs = this.#settings.firstPauseMs;
    this.#settle(message);
  }

  #ended(why: string): void {
    clearTimeout(this.#timer);
    this.#isReady = false;
    this.#told = undefined;
    this.#listener.stopped(why);
    if (this.#asked?.isSent) this.#settle(why === TIMED_OUT ? { kind: 'timed-out' } : failed(why));
    this.#timer = setTimeout(() => this.#start(), this.#pauseMs).unref();
    this.#pauseMs = Math.min(2 * this.#pauseMs, this.#settings.longestPauseMs);
  }

  #limit(ms: number): void {
    this.#timer = setTimeout(() => this.#thread?.stop(TIMED_OUT), ms).unref();
  }

  #settle(said: CandidateSaid): void {
    const asked = this.#asked;
    this.#asked = undefined;
    asked?.settle(said);
  }
}

function failed(what: string): CandidateSaid {
  return { kind: 'failed', what };
}

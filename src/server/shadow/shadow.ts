import type { Logger } from 'pino';
import type { Advice, AdviceInput } from '../../advice/index.js';
import type { Site } from '../../rulebook/site.js';
import type { Difference } from '../../store/difference.js';
import type { Store } from '../../store/store.js';
import { failureOf } from '../store-failure.js';
import { answeredOf } from './answered.js';
import { CandidateRuns, RUNS } from './candidate-runs.js';
import type { CandidateSaid, RunSettings } from './candidate-runs.js';
import type { AnswerDifference } from './compare-answers.js';
import type { Candidate } from './load-candidate.js';
import type { CallMessage } from './shadow-message.js';

/** What came of one call that was offered to a candidate, or of the candidate's thread. */
export const SHADOW_EVENTS = [
  'same',
  'differed',
  'failed',
  'timed-out',
  'dropped',
  'not-kept',
  'started',
  'stopped',
] as const;
export type ShadowEvent = (typeof SHADOW_EVENTS)[number];

/** A call that was answered: what it was, what was said, and under which id that is kept. */
export interface AnsweredCall {
  readonly decision: string;
  /** The body as it came. */
  readonly body: Uint8Array;
  readonly input: AdviceInput;
  /** Set where the context is more than the body says. */
  readonly isCompleted: boolean;
  readonly advice: Advice;
}

/** Answers again, with a candidate rulebook, what was answered, and keeps what differs. It never throws and never waits. */
export interface Shadow {
  readonly candidate: Candidate;
  readonly offer: (call: AnsweredCall) => void;
  readonly close: () => Promise<void>;
}

export interface ShadowParts {
  readonly candidate: Candidate;
  readonly store: Pick<Store, 'saveDifference'>;
  readonly log: Logger;
  readonly onEvent?: (event: ShadowEvent) => void;
  readonly settings?: Partial<ShadowSettings>;
}

export interface ShadowSettings extends RunSettings {
  /** Calls that wait at most, and their bytes; more are dropped, and counted. */
  readonly mostWaiting: number;
  readonly mostBytes: number;
  /**
   * The share of time in which the candidate is at work: processors share caches and more, so that whoever waits for an
   * answer would feel one that never rests.
   */
  readonly share: number;
  /** The longest rest, in milliseconds. */
  readonly longestRestMs: number;
}

/** A call takes it some milliseconds, so that it looks at about ten a second: more than a hospital books and signs. */
const SETTINGS: ShadowSettings = {
  ...RUNS,
  mostWaiting: 64,
  mostBytes: 32 * 1024 * 1024,
  share: 0.05,
  longestRestMs: 5000,
};

interface Waiting {
  readonly decision: string;
  readonly message: CallMessage;
  readonly site: Site | undefined;
}

/** Starts the thread of a candidate. */
export function startShadow(parts: ShadowParts): Shadow {
  return new QueuedShadow(parts);
}

class QueuedShadow implements Shadow {
  readonly #parts: ShadowParts;
  readonly #settings: ShadowSettings;
  readonly #runs: CandidateRuns;
  readonly #waiting: Waiting[] = [];
  #bytes = 0;
  #isWorking = false;
  #isClosed = false;

  constructor(parts: ShadowParts) {
    this.#parts = parts;
    this.#settings = { ...SETTINGS, ...parts.settings };
    const { version, hash } = parts.candidate;
    this.#runs = new CandidateRuns(parts.candidate, this.#settings, {
      started: () => {
        this.#tell('started');
        parts.log.info({ candidate: version, hash }, 'candidate runs in the shadow');
      },
      stopped: (why) => {
        this.#tell('stopped');
        parts.log.warn({ candidate: version, hash, why }, 'candidate stopped, and is started anew');
      },
    });
  }

  get candidate(): Candidate {
    return this.#parts.candidate;
  }

  offer(call: AnsweredCall): void {
    if (this.#isClosed) return;
    try {
      if (this.#isFull(call.body.byteLength)) {
        this.#tell('dropped');
        return;
      }
      this.#waiting.push(waitingOf(call));
      this.#bytes += call.body.byteLength;
      void this.#work();
    } catch (error) {
      this.#parts.log.error(failureOf(error), 'a call could not be offered to the candidate');
    }
  }

  async close(): Promise<void> {
    this.#isClosed = true;
    this.#waiting.length = 0;
    await this.#runs.close();
  }

  /** A candidate that has nothing to do takes a call of any size. */
  #isFull(bytes: number): boolean {
    if (!this.#isWorking) return false;
    return (
      this.#waiting.length >= this.#settings.mostWaiting || this.#bytes + bytes > this.#settings.mostBytes
    );
  }

  async #work(): Promise<void> {
    if (this.#isWorking) return;
    this.#isWorking = true;
    for (let next = this.#waiting.shift(); next; next = this.#waiting.shift()) {
      const began = performance.now();
      const said = await this.#runs.ask(next.message, next.site);
      this.#bytes -= next.message.body.byteLength;
      // What differs is kept before the next call is asked, so that a slow store slows this and nothing else.
      if (!this.#isClosed) await this.#keep(next, said);
      if (!this.#isClosed) await this.#rest(performance.now() - began);
    }
    this.#isWorking = false;
  }

  #rest(workedMs: number): Promise<void> {
    const { share, longestRestMs } = this.#settings;
    const ms = Math.min(workedMs * (1 / share - 1), longestRestMs);
    return new Promise((resolve) => {
      setTimeout(resolve, ms).unref();
    });
  }

  async #keep({ decision, message }: Waiting, said: CandidateSaid): Promise<void> {
    const found = differencesOf(said);
    this.#tell(EVENT_OF[said.kind] ?? (found.length === 0 ? 'same' : 'differed'));
    const shared = { decision, at: message.input.now, candidateHash: this.candidate.hash };
    try {
      await Promise.all(
        found.map((one) => this.#parts.store.saveDifference({ ...shared, ...one } satisfies Difference)),
      );
    } catch (error) {
      this.#tell('not-kept');
      this.#parts.log.error(failureOf(error), 'what the candidate would change could not be kept');
    }
  }

  #tell(event: ShadowEvent): void {
    this.#parts.onEvent?.(event);
  }
}

/** Stands for what the body says. */
const IN_BODY = {};

function waitingOf({ decision, body, input, isCompleted, advice }: AnsweredCall): Waiting {
  const { site, ...rest } = input;
  const copied = { ...rest, context: isCompleted ? rest.context : IN_BODY, prefetch: IN_BODY };
  const answered = answeredOf(advice);
  return { decision, site, message: { kind: 'call', body, input: copied, isCompleted, answered } };
}

const EVENT_OF: Partial<Record<CandidateSaid['kind'], ShadowEvent>> = {
  failed: 'failed',
  'timed-out': 'timed-out',
};

function differencesOf(
  said: CandidateSaid,
): readonly (AnswerDifference | Pick<Difference, 'kind' | 'would'>)[] {
  switch (said.kind) {
    case 'compared':
      return said.differences;
    case 'failed':
      return [{ kind: 'fault', would: said.what }];
    case 'timed-out':
      return [{ kind: 'timeout' }];
  }
}

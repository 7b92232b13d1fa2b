import { collectDefaultMetrics, Counter, Gauge, Histogram, Registry } from 'prom-client';
import type { IssueCode } from '../../base/result.js';
import { countAnswers } from './answer-counts.js';
import type { AnswerCounts } from './answer-counts.js';
import { countFeedback } from './feedback-counts.js';
import type { FeedbackCounts } from './feedback-counts.js';
import type { ShadowEvent } from '../shadow/shadow.js';
import type { Phase, Stopwatch } from './stopwatch.js';

/** How one call went, for the operator: nothing of whom it was about, or of who made it. */
export interface MeasuredCall {
  readonly service: string;
  readonly hook: string;
  readonly status: number;
  /** Its phases until the answer left, and the time since it came. */
  readonly watch: Pick<Stopwatch, 'phases' | 'seconds'>;
}

/** Everything the service counts. Every label comes from a closed list; none is ever a client's or a patient's text. */
export interface Metrics extends AnswerCounts, FeedbackCounts {
  /** Counts a call whose answer leaves. */
  readonly call: (call: MeasuredCall) => void;
  /** A phase that ended after the answer had left. */
  readonly phase: (hook: string, phase: Phase, seconds: number) => void;
  /** The service's own code of a refusal or failure. */
  readonly problem: (code: IssueCode) => void;
  /** Why a token was refused, in words of ours. */
  readonly refusedToken: (reason: string) => void;
  readonly shadow: (event: ShadowEvent) => void;
  /** A record or feedback that could not be kept. */
  readonly notStored: (what: 'decision' | 'feedback') => void;
  readonly turnedAway: (what: string) => void;
  readonly reloaded: (came: 'taken' | 'refused') => void;
  /** Tells a number whenever somebody asks. */
  readonly gauge: (name: string, help: string, read: () => number) => void;
  /** Counts of the process as well: memory, processor time, how late the event loop is. Once for a process. */
  readonly watchProcess: () => void;
  /** Everything, in the text form that a Prometheus server reads, and its media type. */
  readonly text: () => Promise<string>;
  readonly contentType: string;
}

/** From a fast answer to one that ran into every limit there is. */
const SECONDS = [0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.2, 0.3, 0.5, 1, 2, 5];

/** A registry of its own, so that two services in one process count apart. */
export function newMetrics(): Metrics {
  const register = new Registry();
  const counter = <Name extends string>(name: string, help: string, ...labelNames: Name[]) =>
    new Counter({ name: `kotyle_${name}`, help, labelNames, registers: [register] });
  const histogram = <Name extends string>(name: string, help: string, ...labelNames: Name[]) =>
    new Histogram({
      name: `kotyle_${name}`,
      help,
      labelNames,
      buckets: SECONDS,
      registers: [register],
    });
  const calls = counter('calls_total', 'Hook calls answered', 'service', 'hook', 'status');
  const whole = histogram('call_seconds', 'From the arrival of a call to its answer', 'hook');
  const phases = histogram('call_phase_seconds', 'Time of each phase of a call', 'hook', 'phase');
  const problems = counter('problems_total', 'Refusals and failures, by code', 'code');
  const tokens = counter('refused_tokens_total', 'Calls whose token was refused, by reason', 'reason');
  const shadow = counter('shadow_total', 'What became of calls in the shadow of their answer', 'event');
  const notStored = counter('not_stored_total', 'Records and feedback that could not be kept', 'what');
  const turnedAway = counter('turned_away_total', 'Calls not admitted while too many were worked on', 'what');
  const reloads = counter('reloads_total', 'Attempts to load rulebook and site anew', 'came');
  return {
    call: ({ service, hook, status, watch }) => {
      calls.inc({ service, hook, status: String(status) });
      whole.observe({ hook }, watch.seconds());
      for (const [phase, seconds] of watch.phases) phases.observe({ hook, phase }, seconds);
    },
    phase: (hook, phase, seconds) => phases.observe({ hook, phase }, seconds),
    problem: (code) => problems.inc({ code }),
    refusedToken: (reason) => tokens.inc({ reason }),
    shadow: (event) => shadow.inc({ event }),
    notStored: (what) => notStored.inc({ what }),
    turnedAway: (what) => turnedAway.inc({ what }),
    reloaded: (came) => reloads.inc({ came }),
    gauge: (name, help, read) => {
      const gauge: Gauge = new Gauge({
        name: `kotyle_${name}`,
        help,
        registers: [register],
        collect: () => gauge.set(read()),
      });
    },
    watchProcess: () => collectDefaultMetrics({ register }),
    ...countAnswers(register),
    ...countFeedback(register),
    text: () => register.metrics(),
    contentType: register.contentType,
  };
}

import { SingleBar } from 'cli-progress';
import type { Io } from './io.js';

/** How far long work is. */
export interface Progress {
  readonly tell: (done: number) => void;
  readonly end: () => void;
}

const SECONDS_BETWEEN_LINES = 2;

/** A bar where a person watches, otherwise a line every few seconds; both on standard error. */
export function progressOf(what: string, total: number | undefined, io: Io): Progress {
  if (io.isTerminal && total !== undefined) {
    const bar = new SingleBar({
      format: `{bar} {value} of {total} ${what}, {eta_formatted} left`,
      stream: process.stderr,
      clearOnComplete: true,
    });
    bar.start(total, 0);
    return {
      tell: (done) => {
        bar.update(done);
      },
      end: () => {
        bar.stop();
      },
    };
  }
  const of = total === undefined ? '' : ` of ${total}`;
  let told = Date.now();
  return {
    tell: (done) => {
      if (Date.now() - told < SECONDS_BETWEEN_LINES * 1000) return;
      told = Date.now();
      io.err(`${done}${of} ${what}\n`);
    },
    end: () => undefined,
  };
}

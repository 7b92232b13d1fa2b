import type { Advisor } from '../../../src/advice/index.js';
import { advisor } from '../../advice/patients.js';

/** An advisor that decides nothing until it is let go. */
export interface WaitingAdvisor {
  readonly advisor: Advisor;
  /** Resolves once so many calls wait for a decision. */
  readonly untilAsked: (calls: number) => Promise<void>;
  readonly letGo: () => void;
}

/** The shipped advisor, held at the first decision of each call. */
export function shippedAdvisorThatWaits(): WaitingAdvisor {
  let letGo: () => void = () => undefined;
  const gate = new Promise<void>((resolve) => {
    letGo = resolve;
  });
  let asked = 0;
  const watchers: (() => void)[] = [];
  return {
    advisor: {
      ...advisor,
      decide: async (...given) => {
        asked += 1;
        for (const watch of watchers) watch();
        await gate;
        return await advisor.decide(...given);
      },
    },
    untilAsked: (calls) =>
      new Promise((resolve) => {
        const look = (): void => {
          if (asked >= calls) resolve();
        };
        watchers.push(look);
        look();
      }),
    letGo: () => letGo(),
  };
}

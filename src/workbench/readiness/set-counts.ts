import type { Advice, Hook } from '../../advice/index.js';
import type { Rulebook } from '../../rulebook/types.js';
import type { SetFigures } from './readiness-types.js';

type Arrived = Pick<SetFigures, 'complete' | 'incomplete' | 'absent' | 'failed'>;

/** How the sets of resources arrived, over the recognised calls of each hook. */
export class SetCounts {
  readonly #counts = new Map<string, { -readonly [Status in keyof Arrived]: number }>();

  add(hook: Hook, advice: Advice): void {
    if (advice.kind !== 'answer' || advice.record?.recognised !== 'yes') return;
    for (const [key, { status }] of Object.entries(advice.record.sets)) {
      const place = `${hook} ${key}`;
      const counts = this.#counts.get(place) ?? { complete: 0, incomplete: 0, absent: 0, failed: 0 };
      this.#counts.set(place, counts);
      counts[status] += 1;
    }
  }

  figures(hooks: readonly Hook[], { about }: Rulebook): readonly SetFigures[] {
    return hooks.flatMap((hook) =>
      [...this.#counts]
        .filter(([place]) => place.startsWith(`${hook} `))
        .map(([place, counts]) => {
          const key = place.slice(hook.length + 1);
          return { hook, key, title: about.sets[key] ?? key, ...counts };
        }),
    );
  }
}

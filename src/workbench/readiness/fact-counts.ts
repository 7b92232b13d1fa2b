import { byText } from '../../base/order.js';
import type { HipEvaluation } from '../../engine/evaluate.js';
import type { FactDefinition } from '../../facts/definitions.js';
import type { Fact } from '../../facts/fact.js';
import type { Rulebook } from '../../rulebook/types.js';
import type { FactFigures, HipsCounted } from './readiness-types.js';
import { Tally } from './tally.js';

type Recorded = Extract<FactDefinition, { kind: FactFigures['kind'] }>;

interface Counts {
  readonly found: Tally;
  readonly unusable: Tally;
  absent: number;
  notRecorded: number;
  notRead: number;
  assumed: number;
}

/** On how many hips each thing that a record can hold was found. */
export class FactCounts {
  readonly #definitions: readonly Recorded[];
  readonly #counts: ReadonlyMap<string, Counts>;
  readonly #hips = { planned: 0, 'in-place': 0, sideless: 0 };

  constructor({ facts }: Rulebook) {
    this.#definitions = facts.filter(isRecorded);
    this.#counts = new Map(this.#definitions.map(({ id }) => [id, noCounts()]));
  }

  /** The hips of one member, each once. */
  add(hips: readonly HipEvaluation[]): void {
    for (const { hip, construct, facts } of hips) {
      // Of a hip without a side nothing is known, whatever is recorded.
      if (hip === 'unknown') {
        this.#hips.sideless += 1;
        continue;
      }
      this.#hips[construct] += 1;
      for (const { id } of this.#definitions) this.#count(facts.get(id));
    }
  }

  #count(fact: Fact | undefined): void {
    const counts = fact && this.#counts.get(fact.id);
    if (!counts) return;
    const { state, stage, assumptions = [] } = fact;
    switch (state.status) {
      case 'present':
        counts.found.add(stage ?? 'any');
        if (assumptions.length > 0) counts.assumed += 1;
        return;
      case 'absent':
        counts.absent += 1;
        return;
      case 'unknown':
        if (state.reason === 'not-recorded') counts.notRecorded += 1;
        else if (state.reason === 'set-not-read') counts.notRead += 1;
        else counts.unusable.add(state.reason);
    }
  }

  get hips(): HipsCounted {
    return this.#hips;
  }

  /** What was found most comes first. */
  figures(): readonly FactFigures[] {
    return this.#definitions
      .map(({ id, title, kind }) => {
        const { found, unusable, ...counts } = this.#counts.get(id) ?? noCounts();
        return { fact: id, title, kind, found: found.byName(), unusable: unusable.byName(), ...counts };
      })
      .sort((a, b) => foundIn(b) - foundIn(a) || byText(({ fact }: FactFigures) => fact)(a, b));
  }
}

/** On how many hips something was found, at whichever stage. */
export function foundIn({ found }: Pick<FactFigures, 'found'>): number {
  return Object.values(found).reduce((sum, count) => sum + count, 0);
}

function isRecorded(definition: FactDefinition): definition is Recorded {
  return ['measure', 'condition', 'observation'].includes(definition.kind);
}

function noCounts(): Counts {
  return { found: new Tally(), unusable: new Tally(), absent: 0, notRecorded: 0, notRead: 0, assumed: 0 };
}

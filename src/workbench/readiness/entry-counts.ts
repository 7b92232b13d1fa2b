import type { Advice, Hook } from '../../advice/index.js';
import type { Card } from '../../render/card-types.js';
import type { EntryFigures } from './readiness-types.js';
import { Tally } from './tally.js';

type Answer = Extract<Advice, { kind: 'answer' }>;

/** The cards of an answer: what is shown, or would be shown if the service spoke. */
export function cardsTold({ cards, withheld = [] }: Answer): readonly Card[] {
  return [...cards, ...withheld];
}

/** What became of the calls of one hook. */
export class EntryCounts {
  readonly #recognised = new Tally<keyof EntryFigures['recognised']>();
  readonly #by = new Tally();
  readonly #keptCards = new Tally();
  readonly #keptCalls = new Tally();
  readonly #callsWith = new Tally<'info' | 'warning' | 'critical'>();
  readonly #callsByCards: number[] = [];
  #calls = 0;
  #notListed = 0;
  #mapped = 0;
  #hips = 0;

  constructor(readonly hook: Hook) {}

  add(advice: Advice): void {
    this.#calls += 1;
    const recognised = recognitionOf(advice);
    this.#recognised.add(recognised);
    if (recognised !== 'yes' || advice.kind !== 'answer') return;
    this.#hips += advice.hips.length;
    if (advice.audience === 'not-listed') this.#notListed += 1;
    for (const what of recognisedBy(advice)) this.#by.add(what);
    if (advice.record?.resources.some(({ translation }) => (translation?.mapped.length ?? 0) > 0))
      this.#mapped += 1;
    this.#addCards(advice);
  }

  #addCards(advice: Answer): void {
    const cards = cardsTold(advice);
    while (this.#callsByCards.length <= cards.length) this.#callsByCards.push(0);
    this.#callsByCards[cards.length] = (this.#callsByCards[cards.length] ?? 0) + 1;
    for (const indicator of new Set(cards.map((card) => card.indicator))) this.#callsWith.add(indicator);
    for (const { why } of advice.kept) this.#keptCards.add(why);
    for (const why of new Set(advice.kept.map((kept) => kept.why))) this.#keptCalls.add(why);
  }

  figures(): EntryFigures {
    const of = this.#recognised.of.bind(this.#recognised);
    return {
      hook: this.hook,
      calls: this.#calls,
      recognised: {
        yes: of('yes'),
        no: of('no'),
        unknown: of('unknown'),
        refused: of('refused'),
        lay: of('lay'),
        off: of('off'),
      },
      by: this.#by.list().map(([what, calls]) => ({ what, calls })),
      notListed: this.#notListed,
      mapped: this.#mapped,
      hips: this.#hips,
      callsByCards: this.#callsByCards,
      callsWith: {
        info: this.#callsWith.of('info'),
        warning: this.#callsWith.of('warning'),
        critical: this.#callsWith.of('critical'),
      },
      kept: this.#keptCards.list().map(([why, cards]) => ({ why, cards, calls: this.#keptCalls.of(why) })),
    };
  }
}

function recognitionOf(advice: Advice): keyof EntryFigures['recognised'] {
  if (advice.kind !== 'answer') return advice.kind === 'refused' ? 'refused' : 'unknown';
  if (advice.off) return 'off';
  if (advice.layUser) return 'lay';
  return advice.record?.recognised ?? 'no';
}

/** By which systems a call was recognised, each once; what is in the hip already is told by kind of resource. */
function recognisedBy({ record }: Answer): ReadonlySet<string> {
  const orders = (record?.operations ?? []).map(({ by }) => by.system);
  const implanted = (record?.implanted ?? []).map(({ by }) => `in place, by ${by}`);
  return new Set([...orders, ...implanted]);
}

import type { StoreSettings } from './open-store.js';
import type { ServiceStore } from './store.js';

/** What the thread of a store is started with: what of the settings can be sent to it. */
export interface ThreadData extends Omit<StoreSettings, 'warn'> {
  /** Whether a database that may lose commits is pointed out rather than refused. */
  readonly isWarned: boolean;
}

/**
 * A question to the thread. A decision goes as texts: records are large, and a text is copied in a fraction of the time
 * their many parts would take; cards apart, since one sign beyond Latin-1 doubles the room of the text it is in.
 */
export type ToStore =
  | { readonly id: number; readonly ask: 'saveDecision'; readonly texts: DecisionTexts }
  | {
      readonly [Method in Exclude<keyof ServiceStore, 'saveDecision'>]: {
        readonly id: number;
        readonly ask: Method;
        readonly given: Parameters<ServiceStore[Method]>;
      };
    }[Exclude<keyof ServiceStore, 'saveDecision'>];

/** JSON of a record, and of the parts of what it was made from where that is kept. */
export interface DecisionTexts {
  readonly record: string;
  readonly content?: { readonly call: string; readonly cards: string; readonly sent?: Uint8Array };
}

export type FromStore =
  | { readonly kind: 'warned'; readonly faults: readonly string[] }
  | { readonly kind: 'opened' }
  | { readonly kind: 'refused'; readonly failure: Failure }
  | { readonly kind: 'done'; readonly id: number; readonly value: unknown }
  | { readonly kind: 'failed'; readonly id: number; readonly failure: Failure };

/** An error as it crosses threads, which would leave a database's code behind. */
export interface Failure {
  readonly name: string;
  readonly message: string;
  readonly code?: string;
  readonly stack?: string;
}

export function failureFrom(error: unknown): Failure {
  if (!(error instanceof Error)) return { name: 'Error', message: 'unknown' };
  const { name, message, stack } = error;
  const code = 'code' in error && typeof error.code === 'string' ? error.code : undefined;
  return { name, message, ...(code !== undefined && { code }), ...(stack !== undefined && { stack }) };
}

export function errorFrom({ message, ...rest }: Failure): Error {
  return Object.assign(new Error(message), rest);
}

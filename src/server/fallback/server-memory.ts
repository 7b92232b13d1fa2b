import type { RungName } from './ladder.js';

const HOUR_MS = 60 * 60 * 1000;
const MOST_ENTRIES = 10_000;

/** Which question a set is asked by: enough to know it again at the next call. */
export interface Question {
  readonly base: string;
  readonly scopes: string | undefined;
  readonly key: string;
  readonly type: string;
  /** The template with the patient's id in it. */
  readonly url: string;
}

/** What was learnt about the record systems' servers; kept for an hour, in memory only. */
export interface ServerMemory {
  readonly rungOf: (question: Question) => RungName | undefined;
  readonly rememberAnswer: (question: Question, rung: RungName) => void;
  readonly isNotOffered: (question: Question, rung: RungName | 'read') => boolean;
  readonly rememberRefusal: (question: Question, rung: RungName | 'read', status: number) => void;
}

export function newServerMemory(now: () => number): ServerMemory {
  const rungs = newHourMap<RungName>(now);
  const answering = newHourMap<true>(now);
  const refused = newHourMap<true>(now);
  const notFoundFor = newHourMap<string>(now);
  return {
    rungOf: ({ base, key }) => rungs.get(nameFrom(base, key)),
    rememberAnswer: ({ base, key, type }, rung) => {
      rungs.set(nameFrom(base, key), rung);
      answering.set(nameFrom(base, type), true);
    },
    isNotOffered: (question, rung) =>
      [typeName, tokenName, patientName].some((name) => refused.get(name(question, rung)) === true),
    rememberRefusal: (question, rung, status) => {
      if (status === 403) refused.set(tokenName(question, rung), true);
      // A type that was answered this hour is known there: then "not found" is about this patient.
      else if (answering.get(nameFrom(question.base, question.type)) === undefined) {
        const type = typeName(question, rung);
        const before = notFoundFor.get(type);
        // Some servers say "not found" of a patient they do not know: of the type it is believed when two patients agree.
        const isAboutType = status !== 404 || (before !== undefined && before !== question.url);
        if (status === 404) notFoundFor.set(type, question.url);
        refused.set(isAboutType ? type : patientName(question, rung), true);
      }
    },
  };
}

/** "Unknown here" holds for everybody. */
function typeName({ base, type }: Question, rung: string): string {
  return nameFrom('type', base, type, rung);
}

/** "Forbidden" may be about the scopes or about this patient's record: it holds for no other token and no other patient. */
function tokenName({ base, scopes, key, url }: Question, rung: string): string {
  return nameFrom('token', base, scopes ?? '', key, url, rung);
}

/** "Not found" may be about this patient: it holds for whoever asks about the same one. */
function patientName({ base, key, url }: Question, rung: string): string {
  return nameFrom('patient', base, key, url, rung);
}

function nameFrom(...parts: readonly string[]): string {
  return JSON.stringify(parts);
}

interface HourMap<Value> {
  readonly get: (name: string) => Value | undefined;
  readonly set: (name: string, value: Value) => void;
}

function newHourMap<Value>(now: () => number): HourMap<Value> {
  const entries = new Map<string, { readonly value: Value; readonly until: number }>();
  return {
    get: (name) => {
      const entry = entries.get(name);
      return entry && now() < entry.until ? entry.value : undefined;
    },
    set: (name, value) => {
      // Taken out first, so that the oldest entry always stands at the front.
      entries.delete(name);
      entries.set(name, { value, until: now() + HOUR_MS });
      const [oldest] = entries.keys();
      if (entries.size > MOST_ENTRIES && oldest !== undefined) entries.delete(oldest);
    },
  };
}

import type { Logger } from 'pino';
import type { DataSet } from '../../fhir/bundle.js';
import type { JsonObject } from '../../fhir/json.js';
import type { Located } from '../../fhir/references.js';
import { normaliseBase } from './base-url.js';
import { newRecordClient } from './record-client.js';
import { newRecordSession } from './record-session.js';
import { newServerMemory } from './server-memory.js';
import type { SetQuery } from './set-query.js';

export interface RecordReaderOptions {
  /** Base URLs that may be asked; compared whole, so that nothing beside them is. */
  readonly allowed: readonly string[];
  /** Time one session may take, all requests together. */
  readonly budgetMs: number;
  readonly log: Logger;
  /** The clock, in milliseconds since 1970 UTC, by which what was learnt about a server is forgotten. */
  readonly now?: () => number;
}

/** What a call says of the record system that sent it. */
export interface RecordAccess {
  readonly fhirServer: string;
  readonly accessToken?: string;
  readonly scopes?: string;
  /** Of the allow-listed servers, those that whoever calls may name; all of them when left out. */
  readonly among?: readonly string[] | undefined;
}

/** Reads what prefetch did not bring, from the FHIR server of the call and from nowhere else. */
export interface RecordReader {
  /** Undefined when the server is not allow-listed: then nothing is asked. The budget runs from here on. */
  readonly open: (access: RecordAccess) => RecordSession | undefined;
}

/** The reading for one call. Nothing in it throws on what a server answers, or does not. */
export interface RecordSession {
  /** Reads sets side by side; the answer holds one for every key asked. */
  readonly readSets: (queries: readonly SetQuery[]) => Promise<ReadonlyMap<string, DataSet>>;
  /** Reads the resource a reference names; undefined when it is another server's, or can't be had. */
  readonly readReference: (reference: string) => Promise<JsonObject | undefined>;
  /** Reads on where a prefetch Bundle stopped; `soFar` are the resources it held. */
  readonly continueSet: (key: string, next: string, soFar: readonly Located[]) => Promise<DataSet>;
}

/** What is learnt about the servers is kept here, from one call to the next: make one reader for the whole service. */
export function newRecordReader(options: RecordReaderOptions): RecordReader {
  const now = options.now ?? Date.now;
  const memory = newServerMemory(now);
  const allowed = new Set(options.allowed.map(normaliseBase).filter((base) => base !== undefined));
  return {
    open: ({ fhirServer, accessToken, scopes, among }) => {
      const base = normaliseBase(fhirServer);
      if (base === undefined || !allowed.has(base)) return undefined;
      if (among && !among.map(normaliseBase).includes(base)) return undefined;
      const { budgetMs, log } = options;
      const client = newRecordClient({ base, token: accessToken, budgetMs, log, now });
      return newRecordSession({ base, scopes, client, memory });
    },
  };
}

import { readDataSet } from '../../fhir/bundle.js';
import type { DataSet } from '../../fhir/bundle.js';
import type { JsonObject } from '../../fhir/json.js';
import { normaliseReference } from '../../fhir/references.js';
import type { Located } from '../../fhir/references.js';
import { describeFault, isNotOffered, NOT_OFFERED } from './fault.js';
import type { Fault } from './fault.js';
import { climb } from './climb.js';
import { followPages } from './read-pages.js';
import type { Answer, RecordClient } from './record-client.js';
import type { RecordSession } from './record-reader.js';
import { grantOf } from './scopes.js';
import type { Question, ServerMemory } from './server-memory.js';
import { parseQuery } from './set-query.js';
import type { ParsedQuery, SetQuery } from './set-query.js';

/** One server, one token, one budget. */
export interface SessionParts {
  readonly base: string;
  readonly scopes: string | undefined;
  readonly client: RecordClient;
  readonly memory: ServerMemory;
}

export function newRecordSession(parts: SessionParts): RecordSession {
  return {
    readSets: async (queries) => {
      const read = async (query: SetQuery): Promise<[string, DataSet]> => [
        query.key,
        await readSet(query, parts),
      ];
      return new Map(await Promise.all(queries.map(read)));
    },
    readReference: (reference) => readReference(reference, parts),
    continueSet: (key, next, soFar) => continueSet(key, next, soFar, parts),
  };
}

async function readSet(query: SetQuery, parts: SessionParts): Promise<DataSet> {
  const parsed = parseQuery(query.url);
  if (!parsed) return { status: 'failed', resources: [], why: 'could not be read (no address can be made)' };
  const { type } = parsed;
  const grant = grantOf(parts.scopes, type, parsed.kind === 'read' ? 'r' : 's');
  if (grant === 'none') return absent(`${NOT_OFFERED}: outside the granted scopes`);
  const question: Question = { base: parts.base, scopes: parts.scopes, ...query, type };
  if (parsed.kind === 'read') return await readOne(parsed, question, parts);
  const set = await climb(parsed.terms, question, parts);
  // A server leaves out what such a scope does not cover, without a word.
  return grant === 'part' && set.status === 'complete'
    ? { status: 'incomplete', resources: set.resources, why: 'granted in part only' }
    : set;
}

type ReadQuery = Extract<ParsedQuery, { kind: 'read' }>;

async function readOne({ type, id }: ReadQuery, question: Question, parts: SessionParts): Promise<DataSet> {
  const { client, memory } = parts;
  if (memory.isNotOffered(question, 'read')) return absent(NOT_OFFERED);
  const answer = await client.read({ key: question.key, type }, id);
  if (answer.ok) return readDataSet({ answer: answer.resource }, 'answer', type);
  const { fault } = answer;
  if (!isNotOffered(fault) || isMissing(fault))
    return { status: 'failed', resources: [], why: describeFault(fault) };
  if (fault.kind === 'status') memory.rememberRefusal(question, 'read', fault.status);
  return absent(NOT_OFFERED);
}

/** A single resource that is not found says nothing about its type. */
function isMissing(fault: Fault): boolean {
  return fault.kind === 'status' && fault.status === 404;
}

async function readReference(reference: string, parts: SessionParts): Promise<JsonObject | undefined> {
  const parsed = parseQuery(normaliseReference(reference, parts.base));
  if (parsed?.kind !== 'read' || grantOf(parts.scopes, parsed.type, 'r') === 'none') return undefined;
  const answer: Answer = await parts.client.read({ key: 'reference', type: parsed.type }, parsed.id);
  if (!answer.ok) return undefined;
  const { resource } = answer;
  return resource['resourceType'] === parsed.type && resource['id'] === parsed.id ? resource : undefined;
}

async function continueSet(
  key: string,
  next: string,
  soFar: readonly Located[],
  { client, base }: SessionParts,
): Promise<DataSet> {
  return await followPages(next, soFar, { client, base, purpose: { key, type: 'Bundle' } });
}

function absent(why: string): DataSet {
  return { status: 'absent', resources: [], why };
}

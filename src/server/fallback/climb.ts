import type { DataSet } from '../../fhir/bundle.js';
import { describeFault, isNotOffered, isRefused, NOT_OFFERED } from './fault.js';
import type { Fault } from './fault.js';
import { joinSets } from './join-sets.js';
import { ladderOf } from './ladder.js';
import type { Rung, Terms } from './ladder.js';
import { readFromPage } from './read-pages.js';
import type { RecordClient } from './record-client.js';
import type { Question, ServerMemory } from './server-memory.js';

interface ClimbParts {
  readonly client: RecordClient;
  readonly memory: ServerMemory;
}

/** Reads a set by the first way of asking that the server takes, beginning with the one it took last. */
export async function climb(terms: Terms, question: Question, parts: ClimbParts): Promise<DataSet> {
  const ladder = ladderOf(question.type, terms);
  const known = ladder.find((rung) => rung.name === parts.memory.rungOf(question));
  const order = known ? [known, ...ladder.filter((rung) => rung !== known)] : ladder;
  for (const rung of order) {
    if (parts.memory.isNotOffered(question, rung.name)) return notOffered();
    const set = await askRung(rung, rung === known, question, parts);
    if (set !== 'refused') return set;
  }
  return unread({ kind: 'status', status: 400 });
}

async function askRung(
  rung: Rung,
  known: boolean,
  question: Question,
  { client, memory }: ClimbParts,
): Promise<DataSet | 'refused'> {
  const found = await askAll(rung.searches, known, (terms) => askOnce(terms, question, client));
  const faults = found.flatMap((one) => (one.ok ? [] : [one.fault]));
  if (faults.some(isRefused)) return 'refused';
  const refusal = faults.find(isNotOffered);
  if (refusal?.kind === 'status') memory.rememberRefusal(question, rung.name, refusal.status);
  if (faults.length === 0) memory.rememberAnswer(question, rung.name);
  return joinSets(found.map((one) => (one.ok ? one.set : withoutAnswer(one.fault))));
}

type Found = { readonly ok: true; readonly set: DataSet } | { readonly ok: false; readonly fault: Fault };

/** A way of asking not yet known to work is tried with one search, before the others are sent for nothing. */
async function askAll(
  searches: readonly Terms[],
  known: boolean,
  ask: (terms: Terms) => Promise<Found>,
): Promise<readonly Found[]> {
  if (known) return await Promise.all(searches.map(ask));
  const tried = await Promise.all(searches.slice(0, 1).map(ask));
  if (tried.some((one) => !one.ok)) return tried;
  return [...tried, ...(await Promise.all(searches.slice(1).map(ask)))];
}

async function askOnce(terms: Terms, { base, key, type }: Question, client: RecordClient): Promise<Found> {
  const purpose = { key, type };
  const answer = await client.search(purpose, terms);
  if (!answer.ok) return answer;
  return { ok: true, set: await readFromPage(answer.resource, { client, base, purpose }) };
}

function withoutAnswer(fault: Fault): DataSet {
  return isNotOffered(fault) ? notOffered() : unread(fault);
}

function notOffered(): DataSet {
  return { status: 'absent', resources: [], why: NOT_OFFERED };
}

function unread(fault: Fault): DataSet {
  return { status: 'failed', resources: [], why: describeFault(fault) };
}

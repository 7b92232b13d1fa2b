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
  parts: ClimbParts,
): Promise<DataSet | 'refused'> {
  const [first, ...others] = rung.searches;
  if (!first) return 'refused';
  const ask = (terms: Terms): Promise<Part> => askOnce(terms, question, parts.client);
  // A way not yet known to work is tried with one search, before all the others are sent for nothing.
  const tried = known ? [] : [await ask(first)];
  const worked = tried.every((part) => 'status' in part);
  const rest = known ? rung.searches : worked ? others : [];
  const answers = [...tried, ...(await Promise.all(rest.map(ask)))];
  const faults = answers.flatMap((part) => ('status' in part ? [] : [part.fault]));
  if (faults.some(isRefused)) return 'refused';
  const refusal = faults.find(isNotOffered);
  if (refusal?.kind === 'status') parts.memory.rememberRefusal(question, rung.name, refusal.status);
  if (faults.length === 0) parts.memory.rememberAnswer(question, rung.name);
  return joinSets(
    answers.map((part) =>
      'status' in part ? part : isNotOffered(part.fault) ? notOffered() : unread(part.fault),
    ),
  );
}

type Part = DataSet | { readonly fault: Fault };

async function askOnce(terms: Terms, { base, key, type }: Question, client: RecordClient): Promise<Part> {
  const purpose = { key, type };
  const answer = await client.search(purpose, terms);
  return answer.ok ? await readFromPage(answer.resource, { client, base, purpose }) : answer;
}

function notOffered(): DataSet {
  return { status: 'absent', resources: [], why: NOT_OFFERED };
}

function unread(fault: Fault): DataSet {
  return { status: 'failed', resources: [], why: describeFault(fault) };
}

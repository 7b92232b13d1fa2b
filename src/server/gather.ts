import { missingSets, readsLocalMeasures } from '../advice/index.js';
import type { AdviceInput, MissingSet, OpenRecord } from '../advice/index.js';
import type { DataSet } from '../fhir/bundle.js';
import { asArray, asObject } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import type { Rulebook } from '../rulebook/types.js';
import type { RecordSession } from './fallback/record-reader.js';

/** How the record of the call is read, and with which knowledge. */
export interface Reading {
  readonly rulebook: Rulebook;
  readonly open: OpenRecord;
}

/**
 * Reads what prefetch did not bring, once it is known that the call is about a hip, or where only the record can say
 * so. A visit or order that is about something else costs the record system nothing.
 */
export async function gather(
  input: AdviceInput,
  session: RecordSession | undefined,
  reading: Reading,
): Promise<AdviceInput> {
  if (!session) return input;
  const { rulebook, open } = reading;
  const { hook, laterKeys: later } = input.service;
  const local = (input.site?.measureCodes ?? []).length > 0 ? (['localMeasures'] as const) : [];
  const keys = readsLocalMeasures(input.service) ? [...input.service.keys, ...local] : input.service.keys;
  const laterKeys = readsLocalMeasures(input.service) ? later : [...later, ...local];
  if (hook === 'patient-view') {
    // What the chart is about only the record can say, but a call that is refused or gets no advice asks nothing.
    if (open(input, rulebook).kind !== 'record') return input;
    const opened = await fetchInto(input, session, missingSets(input, rulebook, keys));
    if (!isAboutHip(opened, reading)) return opened;
    return await fetchInto(opened, session, missingSets(opened, rulebook, laterKeys));
  }
  const known = await withReferences(input, session, reading);
  if (!isAboutHip(known, reading)) return known;
  return await fetchInto(known, session, missingSets(known, rulebook, keys));
}

/** Whether anything will be evaluated; a refused call asks nothing of the record system. */
function isAboutHip(input: AdviceInput, { rulebook, open }: Reading): boolean {
  const opened = open(input, rulebook);
  return opened.kind === 'record' && opened.record.recognised === 'yes';
}

async function fetchInto(
  input: AdviceInput,
  session: RecordSession,
  missing: readonly MissingSet[],
): Promise<AdviceInput> {
  if (missing.length === 0) return input;
  const whole = missing.filter(({ rest }) => rest === undefined);
  const begun = missing.flatMap(({ key, rest }) => (rest ? [{ key, rest }] : []));
  const [sets, continued] = await Promise.all([
    session.readSets(whole),
    Promise.all(
      begun.map(
        async ({ key, rest }) => [key, await session.continueSet(key, rest.next, rest.soFar)] as const,
      ),
    ),
  ]);
  const fetched = new Map<string, DataSet>([...(input.fetched ?? []), ...sets, ...continued]);
  // What the client did send, however incomplete, is worth more than a failed second try.
  for (const [key, set] of fetched)
    if (set.status !== 'complete' && set.resources.length === 0 && key in input.prefetch) fetched.delete(key);
  return { ...input, fetched };
}

/** The orders and procedures an appointment points to and the client did not send, read one by one. */
async function withReferences(
  input: AdviceInput,
  session: RecordSession,
  { rulebook, open }: Reading,
): Promise<AdviceInput> {
  const opened = open(input, rulebook);
  if (opened.kind !== 'record' || opened.record.recognised !== 'unknown') return input;
  const read = await Promise.all(
    opened.record.unresolved.map(async (reference) => await session.readReference(reference)),
  );
  const found = read.filter((resource) => resource !== undefined);
  if (found.length === 0) return input;
  return { ...input, context: withEntries(input.context, found) };
}

/** The appointment Bundle with the resources its appointments point to, as if they had come inside it. */
function withEntries(context: JsonObject, resources: readonly JsonObject[]): JsonObject {
  const bundle = asObject(context['appointments']) ?? {};
  const entry = [...asArray(bundle['entry']), ...resources.map((resource) => ({ resource }))];
  return { ...context, appointments: { ...bundle, entry } };
}

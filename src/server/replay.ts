import { advise, openRecord } from '../advice/index.js';
import type { AdviceInput } from '../advice/index.js';
import { canonicalJson } from '../base/canonical-json.js';
import { nameOf } from '../fhir/references.js';
import type { Card } from '../render/card-types.js';
import type { Rulebook } from '../rulebook/types.js';
import type { Pseudonyms } from '../store/pseudonym.js';
import type { DecisionRecord, KeptOutcome } from '../store/store.js';
import { keptCard, outcomesOf } from './decision-of.js';
import type { Installation } from './installation.js';

/** What was decided once: the record, and the cards where they are still kept. */
export interface Decided {
  readonly record: DecisionRecord;
  readonly cards?: readonly Card[];
}

/** Answers a call again and tells what is not as it was; nothing when everything is. */
export async function replay(
  input: AdviceInput,
  { record, cards }: Decided,
  { advisor }: Installation,
): Promise<readonly string[]> {
  const advice = await advise(input, advisor);
  if (advice.kind !== 'answer') return [`expected an answer, found it ${advice.kind}`];
  return [
    ...differences('outcome', record.outcomes.map(outcomeText), outcomesOf(advice).map(outcomeText)),
    ...(cards
      ? differences('card', cards.map(wholeCard), advice.cards.map(wholeCard))
      : differences('card', record.cards.map(canonicalJson), advice.cards.map(keptCard).map(canonicalJson))),
  ];
}

function outcomeText({ rule, ruleVersion, hip, construct, outcome, shown }: KeptOutcome): string {
  return `${rule} ${ruleVersion}, ${hip}, ${construct}: ${outcome}${shown ? ', shown' : ''}`;
}

/** The bytes in which a card was sent, after the id by which it is found. */
function wholeCard(card: Card): string {
  return `${card.uuid} ${JSON.stringify(card)}`;
}

/** Texts that are only in one of two lists, or in another order; of a card only its id is told. */
function differences(what: string, was: readonly string[], is: readonly string[]): readonly string[] {
  const [before, after] = [new Set(was), new Set(is)];
  const told = (text: string): string => (what === 'card' ? firstWord(text) : text);
  const gone = was.filter((text) => !after.has(text)).map((text) => `${what} as it was: ${told(text)}`);
  const come = is.filter((text) => !before.has(text)).map((text) => `${what} as it is now: ${told(text)}`);
  if (gone.length + come.length > 0) return [...gone, ...come];
  return was.join('\n') === is.join('\n') ? [] : [`${what}s in another order`];
}

function firstWord(text: string): string {
  return /^\{/.test(text) ? (JSON.parse(text) as { readonly uuid: string }).uuid : (text.split(' ')[0] ?? '');
}

/** How the resources of a call differ from those a decision was made from, which are known by digest only. */
export interface InputDifference {
  readonly matched: number;
  /** Resources of the decision that the call does not bring, by type. */
  readonly missing: readonly string[];
  /** Resources of the call that the decision did not see, by type. */
  readonly added: readonly string[];
}

export function compareInputs(
  input: AdviceInput,
  record: DecisionRecord,
  { rulebook, pseudonyms }: { readonly rulebook: Rulebook; readonly pseudonyms: Pseudonyms },
): InputDifference {
  const opened = openRecord(input, rulebook);
  const resources = opened.kind === 'record' ? opened.record.resources : [];
  const found = new Map(
    resources.map((located) => [
      pseudonyms.input(record.salt, canonicalJson([nameOf(located), located.resource])),
      String(located.resource['resourceType']),
    ]),
  );
  const digests = new Set(record.inputs.map(({ digest }) => digest));
  const missing = record.inputs.filter(({ digest }) => !found.has(digest)).map(({ type }) => type);
  const added = [...found].filter(([digest]) => !digests.has(digest)).map(([, type]) => type);
  return { matched: record.inputs.length - missing.length, missing: missing.sort(), added: added.sort() };
}

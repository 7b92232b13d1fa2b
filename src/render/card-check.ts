/**
 * What is wrong with a card that is about to leave, by path and never with its words; nothing for a card a client of
 * CDS Hooks 2.0 can show. Every card passes here, whoever wrote it.
 *
 * Source: CDS Hooks 2.0.1, section CDS Service Response, and invariants cds-resp-1 to cds-resp-6. Ours: a uuid always,
 * no actions, nothing that starts by itself, no HTML.
 */
export function cardFaults(card: unknown): readonly string[] {
  if (!isObject(card)) return ['expected an object'];
  const faults: string[] = [];
  for (const [path, expected, isKept] of MEMBERS)
    if (!isKept(card)) faults.push(`${path}: expected ${expected}`);
  for (const name of Object.keys(card))
    if (!KNOWN.has(name)) faults.push('expected no member unknown to cards');
  const empty = emptyMember(card);
  if (empty !== undefined) faults.push(`${empty}: expected a value or no member`);
  return faults;
}

type JsonObject = Readonly<Record<string, unknown>>;
type Requirement = readonly [path: string, expected: string, isKept: (card: JsonObject) => boolean];

/** CDS Hooks 2.0.1, Card Attributes: one sentence of fewer than 140 characters. */
const SUMMARY_BELOW = 140;
const MOST_REASONS = 6;
const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/;
/** GitHub Flavored Markdown, section 6.10: what a renderer takes for the start of HTML. */
const HTML = /<[A-Za-z/!?]/;
/** A link of Markdown or a bare address: cards carry theirs in `links`, where a client shows where they lead. */
const MARKDOWN_LINK = /\]\(|:\/\/|\bwww\./i;
const INDICATORS: ReadonlySet<unknown> = new Set(['info', 'warning', 'critical']);
const KNOWN: ReadonlySet<string> = new Set([
  'uuid',
  'summary',
  'detail',
  'indicator',
  'source',
  'suggestions',
  'selectionBehavior',
  'overrideReasons',
  'links',
  'extension',
]);

const MEMBERS: readonly Requirement[] = [
  ['uuid', 'a lower-case UUID', ({ uuid }) => isText(uuid, UUID)],
  [
    'summary',
    `one line of fewer than ${SUMMARY_BELOW} characters`,
    ({ summary }) => isLine(summary) && summary.length < SUMMARY_BELOW,
  ],
  [
    'detail',
    'Markdown without HTML or links',
    ({ detail }) => detail === undefined || isPlainMarkdown(detail),
  ],
  ['indicator', 'info, warning or critical', ({ indicator }) => INDICATORS.has(indicator)],
  [
    'source',
    'a label, a topic that is a Coding, addresses that are absolute',
    ({ source }) => isSource(source),
  ],
  [
    'suggestions',
    'labels and UUIDs, no actions',
    ({ suggestions }) => isEachOrNone(suggestions, isSuggestion),
  ],
  ['selectionBehavior', 'at-most-one or any beside suggestions', hasSelectionBehavior],
  [
    'overrideReasons',
    `at most ${MOST_REASONS} Codings with display`,
    ({ overrideReasons }) =>
      isEachOrNone(overrideReasons, isCodingWithDisplay) &&
      (!Array.isArray(overrideReasons) || overrideReasons.length <= MOST_REASONS),
  ],
  ['links', 'label, absolute url and type', ({ links }) => isEachOrNone(links, isLink)],
  ['extension', 'an object', ({ extension }) => extension === undefined || isObject(extension)],
];

function hasSelectionBehavior({ suggestions, selectionBehavior }: JsonObject): boolean {
  if (suggestions === undefined) return selectionBehavior === undefined;
  if (selectionBehavior === 'any') return true;
  const recommended = Array.isArray(suggestions)
    ? suggestions.filter((one) => isObject(one) && one['isRecommended'] === true).length
    : 0;
  return selectionBehavior === 'at-most-one' && recommended <= 1;
}

function isSource(source: unknown): boolean {
  if (!isObject(source) || !isLine(source['label'])) return false;
  const { topic, url, icon } = source;
  return (
    (topic === undefined || isCoding(topic)) &&
    [url, icon].every((address) => address === undefined || isAddress(address))
  );
}

/** Suggestions act on nothing, so they have no actions and nothing that chooses among actions. */
const SUGGESTION: ReadonlySet<string> = new Set(['label', 'uuid', 'isRecommended']);

function isSuggestion(one: unknown): boolean {
  return (
    isObject(one) &&
    Object.keys(one).every((name) => SUGGESTION.has(name)) &&
    isLine(one['label']) &&
    isText(one['uuid'], UUID)
  );
}

/** A link that starts by itself is one nobody chose; context for an app only goes with an app. */
function isLink(one: unknown): boolean {
  if (!isObject(one) || !isLine(one['label']) || !isAddress(one['url'])) return false;
  const { type, appContext, autolaunchable } = one;
  if (autolaunchable !== undefined) return false;
  return type === 'smart' || (type === 'absolute' && appContext === undefined);
}

function isCoding(one: unknown): boolean {
  return isObject(one) && isLine(one['code']) && isText(one['system'], /^\S+$/);
}

function isCodingWithDisplay(one: unknown): boolean {
  return isCoding(one) && isObject(one) && isLine(one['display']);
}

function isEachOrNone(list: unknown, isRight: (one: unknown) => boolean): boolean {
  return list === undefined || (Array.isArray(list) && list.every(isRight));
}

function isPlainMarkdown(text: unknown): boolean {
  return typeof text === 'string' && text.trim() !== '' && !HTML.test(text) && !MARKDOWN_LINK.test(text);
}

function isAddress(text: unknown): boolean {
  return isText(text, /^https?:\/\/[^\s/]+\S*$/);
}

function isText(text: unknown, form: RegExp): boolean {
  return typeof text === 'string' && form.test(text);
}

/** A text that is not blank and stands on one line. */
function isLine(text: unknown): text is string {
  return typeof text === 'string' && text.trim() !== '' && !/\p{Cc}/u.test(text);
}

/** CDS Hooks 2.0.1, Use of JSON: no member is null, "", [] or {}. The path of the first that is, put together on the way back. */
function emptyMember(value: unknown): string | undefined {
  if (value === null || value === '') return '';
  if (typeof value !== 'object') return undefined;
  const names = Object.keys(value);
  for (const name of names) {
    const found = emptyMember((value as JsonObject)[name]);
    if (found !== undefined) return found === '' ? name : `${name}.${found}`;
  }
  return names.length === 0 ? '' : undefined;
}

function isObject(value: unknown): value is JsonObject {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

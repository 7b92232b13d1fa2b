import { z } from 'zod';
import { readFhirDate } from '../base/dates.js';
import type { Issue, IssueCode, Result } from '../base/result.js';
import { failed, issue, ok } from '../base/result.js';
import type { FeedbackItem } from '../store/store.js';
import { toIssue } from './form-issue.js';

/** Most items one request may bring; a client with more sends them in several requests. */
const MOST_ITEMS = 1000;
/** More suggestions than any card has. */
const MOST_SUGGESTIONS = 100;

/** A feedback request that has the form the standard asks for. */
export interface FeedbackRequest {
  readonly items: readonly FeedbackItem[];
  /** How often each departure from the standard was let pass. */
  readonly leniencies: Readonly<Record<string, number>>;
}

/** What every item of one request has in common. */
export interface FeedbackSource {
  readonly iss: string;
  readonly service: string;
  readonly receivedAt: string;
  readonly strict: boolean;
}

const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/i;
/** RFC 3339, section 5.6: the zone is required; `T` and `Z` may be lower case. */
const INSTANT = /^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(?:\.\d+)?(?:Z|[+-]\d{2}:\d{2})$/i;
const IN_UTC = /(?:Z|[+-]00:00)$/i;
/** FHIR R4, code: no white space but single blanks inside. */
const CODE = /^[^\s\p{Cc}]+(?: [^\s\p{Cc}]+)*$/u;
const URI = /^[^\s\p{Cc}]+$/u;

const uuid = z.string().regex(UUID, 'a UUID');
const suggestion = z.looseObject({ id: uuid });

const coding = z.looseObject({
  code: z.string().regex(CODE, 'a code'),
  system: z.string().regex(URI, 'a URI').optional(),
});

const item = z.looseObject({
  card: uuid,
  outcome: z.enum(['accepted', 'overridden']),
  outcomeTimestamp: z.string().refine((text) => instantOf(text) !== undefined, 'an RFC 3339 time with zone'),
  // Lists are measured before anything is built from their members.
  acceptedSuggestions: z
    .array(z.unknown())
    .max(MOST_SUGGESTIONS, `at most ${MOST_SUGGESTIONS} suggestions`)
    .pipe(z.array(suggestion))
    .optional(),
  overrideReason: z.looseObject({ reason: coding.optional(), userComment: z.string().optional() }).optional(),
});

/** A feedback body, as it is checked. */
export const envelope = z.looseObject({
  feedback: z
    .array(z.unknown())
    .max(MOST_ITEMS, `at most ${MOST_ITEMS} items in one request`)
    .pipe(z.array(item)),
});

type Item = z.infer<typeof item>;

/**
 * Checks a feedback body. All items are taken or none; every fault is named with its path, never with a value.
 *
 * Source: CDS Hooks 2.0.1 and 3.0 ballot, section Feedback; invariants cds-fb-1 to cds-fb-3.
 */
export function readFeedback(body: unknown, source: FeedbackSource): Result<FeedbackRequest> {
  if (typeof body !== 'object' || body === null || Array.isArray(body))
    return failed(issue('not-an-object', '', 'expected a JSON object'));
  const parsed = envelope.safeParse(body);
  if (!parsed.success)
    return { ok: false, issues: parsed.error.issues.flatMap((fault) => toIssue(fault, body, [])) };
  const read = parsed.data.feedback.map((each, index) => ({
    path: `feedback.${index}`,
    each,
    departures: departuresOf(each),
  }));
  const issues = read.flatMap(({ path, each, departures }) => [
    ...brokenInvariants(each, path),
    ...(source.strict ? departures.map((departure) => departureIssue(departure, path)) : []),
  ]);
  if (issues.length > 0) return { ok: false, issues };
  return ok({
    items: read.map(({ each }) => toItem(each, source)),
    leniencies: countNames(read.flatMap(({ departures }) => departures)),
  });
}

/** What an item must have beyond the form of its members. */
function brokenInvariants(each: Item, path: string): readonly Issue[] {
  const issues: Issue[] = [];
  if (each.outcome === 'accepted' && (each.acceptedSuggestions ?? []).length === 0) {
    const message = 'expected the accepted suggestions of an accepted card, found none';
    issues.push(issue('missing', `${path}.acceptedSuggestions`, message));
  }
  const { overrideReason } = each;
  if (overrideReason && overrideReason.reason === undefined && overrideReason.userComment === undefined)
    issues.push(
      issue('missing', `${path}.overrideReason`, 'expected reason, userComment or both, found neither'),
    );
  return issues;
}

interface DepartureForm {
  readonly at: string;
  readonly expected: string;
  readonly code: IssueCode;
  readonly isMade: (each: Item) => boolean;
}

/** Departures from the standard whose meaning is clear all the same. */
const DEPARTURES = {
  'outcomeTimestamp not in UTC': {
    at: 'outcomeTimestamp',
    expected: 'a time in UTC, found another offset',
    code: 'wrong-value',
    isMade: ({ outcomeTimestamp }: Item) => !IN_UTC.test(outcomeTimestamp),
  },
  'override reason without system': {
    at: 'overrideReason.reason.system',
    expected: 'the system of the code, found nothing',
    code: 'missing',
    isMade: ({ overrideReason }: Item) =>
      overrideReason?.reason !== undefined && overrideReason.reason.system === undefined,
  },
  'empty comment': {
    at: 'overrideReason.userComment',
    expected: 'a comment or no such member, found white space',
    code: 'wrong-value',
    isMade: ({ overrideReason }: Item) => overrideReason?.userComment?.trim() === '',
  },
} as const satisfies Record<string, DepartureForm>;

type Departure = keyof typeof DEPARTURES;

function departuresOf(each: Item): readonly Departure[] {
  return (Object.keys(DEPARTURES) as Departure[]).filter((name) => DEPARTURES[name].isMade(each));
}

function departureIssue(departure: Departure, path: string): Issue {
  const { at, expected, code } = DEPARTURES[departure];
  return issue(code, `${path}.${at}`, `expected ${expected}`);
}

function countNames(names: readonly string[]): Readonly<Record<string, number>> {
  const counts: Record<string, number> = {};
  for (const name of names) counts[name] = (counts[name] ?? 0) + 1;
  return counts;
}

/** A code as code systems have them; anything else may be somebody's words, and is sealed with the comment. */
const PLAIN_CODE = /^[A-Za-z0-9._:-]{1,64}$/;

/** Stands for a reason that was written in words. */
const IN_WORDS = 'in-words';

/** The item as it is kept; the label a client shows for a reason is not. */
function toItem(each: Item, { iss, service, receivedAt }: FeedbackSource): FeedbackItem {
  const { reason, userComment } = each.overrideReason ?? {};
  const worded = reason !== undefined && !PLAIN_CODE.test(reason.code) ? [reason.code] : [];
  const said = userComment !== undefined && userComment.trim() !== '' ? [userComment] : [];
  const comment = [...worded, ...said].join('\n');
  return {
    card: each.card.toLowerCase(),
    outcome: each.outcome,
    at: new Date(instantOf(each.outcomeTimestamp) ?? 0).toISOString(),
    acceptedSuggestions: (each.acceptedSuggestions ?? []).map(({ id }) => id.toLowerCase()),
    ...(reason && {
      reason: {
        ...(reason.system !== undefined && { system: reason.system }),
        code: worded.length > 0 ? IN_WORDS : reason.code,
      },
    }),
    ...(comment !== '' && { comment }),
    iss,
    service,
    receivedAt,
  };
}

function instantOf(text: string): number | undefined {
  return INSTANT.test(text) ? readFhirDate(text.toUpperCase())?.from : undefined;
}

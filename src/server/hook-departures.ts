import type { Issue, IssueCode } from '../base/result.js';
import { issue } from '../base/result.js';
import { PREFETCH_KEYS } from '../advice/services.js';
import type { JsonObject } from '../fhir/json.js';
import { foreignParts } from './fhir-version.js';
import type { ForeignParts } from './fhir-version.js';

/** What of a request a departure can be seen in. */
export interface DepartureInput {
  readonly hookInstance: string;
  readonly context: JsonObject;
  readonly prefetch: JsonObject;
  readonly members: readonly string[];
  readonly authorization?: JsonObject;
}

export interface Departures {
  /** Names of the departures that are let pass, in a fixed order. */
  readonly leniencies: readonly string[];
  /** What refuses the call. */
  readonly issues: readonly Issue[];
}

/**
 * Where a request leaves the standard and its meaning is clear all the same: counted, and refused for conformance runs.
 * A Patient id sent as a reference is told by whoever reads the id.
 */
export function departuresOf(input: DepartureInput, strict: boolean): Departures {
  const foreign = foreignParts(input.context);
  const seen = { ...input, foreign };
  const made = DEPARTURES.filter(({ isMade }) => isMade(seen));
  const counted = COUNTED.filter(({ isMade }) => isMade(seen)).map(({ name }) => name);
  const version =
    foreign.type === undefined
      ? []
      : [
          issue(
            'wrong-value',
            foreign.type,
            'expected a resource type of FHIR R4, found one of another version',
          ),
        ];
  return {
    leniencies: [...(strict ? [] : made.map(({ name }) => name)), ...counted],
    issues: [
      ...version,
      ...(strict ? made.map(({ code, at, expected }) => issue(code, at(seen), `expected ${expected}`)) : []),
    ],
  };
}

type Seen = DepartureInput & { readonly foreign: ForeignParts };

interface Departure {
  readonly name: string;
  readonly isMade: (seen: Seen) => boolean;
}

interface RefusedDeparture extends Departure {
  readonly code: IssueCode;
  readonly at: (seen: Seen) => string;
  readonly expected: string;
}

const HEX = /^[0-9a-f-]{36}$/i;
const RFC_UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[1-8][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/i;
const FHIR_ID = /^[A-Za-z0-9\-.]{1,64}$/;
const TYPE_SLASH_ID = /^[A-Z][A-Za-z]+\/[A-Za-z0-9\-.]{1,64}$/;

const DEPARTURES: readonly RefusedDeparture[] = [
  {
    name: 'hookInstance not a UUID of RFC 9562',
    code: 'wrong-value',
    at: () => 'hookInstance',
    expected: 'a UUID of RFC 9562, found another form',
    isMade: ({ hookInstance }) => HEX.test(hookInstance) && !RFC_UUID.test(hookInstance),
  },
  {
    name: 'encounterId not a FHIR id',
    code: 'wrong-value',
    at: () => 'context.encounterId',
    expected: 'a FHIR id, found something else',
    isMade: ({ context: { encounterId } }) => typeof encounterId === 'string' && !FHIR_ID.test(encounterId),
  },
  {
    name: 'no selections',
    code: 'missing',
    at: () => 'context.selections',
    expected: 'at least one selection, found none',
    isMade: ({ context: { selections } }) => Array.isArray(selections) && selections.length === 0,
  },
  {
    name: 'selection without its type',
    code: 'wrong-value',
    at: ({ context }) => `context.selections.${selectionsOf(context).findIndex(isNoReference)}`,
    expected: 'ResourceType/id, found something else',
    isMade: ({ context }) => selectionsOf(context).some(isNoReference),
  },
  {
    name: 'element of another FHIR version',
    code: 'wrong-value',
    at: ({ foreign }) => foreign.element ?? '',
    expected: 'an element of FHIR R4, found one of another version',
    isMade: ({ foreign }) => foreign.element !== undefined,
  },
];

/** CDS Hooks 2.0.1, HTTP Request Details. */
const MEMBERS: ReadonlySet<string> = new Set([
  'hook',
  'hookInstance',
  'fhirServer',
  'fhirAuthorization',
  'context',
  'prefetch',
  'extension',
]);
const ASKED_FOR: ReadonlySet<string> = new Set(PREFETCH_KEYS);

/** What no client may be refused for: it is passed over. */
const COUNTED: readonly Departure[] = [
  { name: 'unknown top-level member', isMade: ({ members }) => members.some((name) => !MEMBERS.has(name)) },
  {
    name: 'prefetch key that was not asked for',
    isMade: ({ prefetch }) => Object.keys(prefetch).some((key) => !ASKED_FOR.has(key)),
  },
  {
    // Invariant cds-r-2, a warning: the scopes are about one patient, whom the client does not name.
    name: 'no patient beside scopes of a patient',
    isMade: ({ authorization }) =>
      authorization !== undefined &&
      /(?:^|\s)patient\//.test(String(authorization['scope'])) &&
      authorization['patient'] === undefined,
  },
];

function selectionsOf({ selections }: JsonObject): readonly unknown[] {
  return Array.isArray(selections) ? selections : [];
}

function isNoReference(selection: unknown): boolean {
  return typeof selection === 'string' && !TYPE_SLASH_ID.test(selection);
}

import { bundleEntries } from '../../../fhir/bundle.js';
import { asObject, asText, objectsIn } from '../../../fhir/json.js';
import type { JsonObject } from '../../../fhir/json.js';
import { normaliseReference } from '../../../fhir/references.js';
import { shiftedDate } from './shift-date.js';

export interface RemovalInput {
  /** What the patient is called from now on. */
  readonly name: string;
  /** Added to every date. */
  readonly shiftDays: number;
  /** The base URL under which references may name the record's own resources. */
  readonly fhirServer?: string;
}

/**
 * A Bundle without anything that says whose it is. Only what is known to be harmless is kept: types, statuses, codes
 * with their systems, numbers and their units, flags, dates (all shifted by the same number of days, a birth date cut
 * to its year) and references, with names that are given anew. Every other text is dropped, wherever it stands.
 */
export function withoutIdentifiers(bundle: JsonObject, input: RemovalInput): JsonObject {
  const names = new NewNames(bundle, input);
  const entries = bundleEntries(bundle).map(({ resource, fullUrl }) => ({
    resource: cleanResource(resource, names, input, fullUrl),
  }));
  return { resourceType: 'Bundle', type: 'collection', ...(entries.length > 0 && { entry: entries }) };
}

/** Members of which nothing is kept, not even numbers or codes. */
const DROPPED: ReadonlySet<string> = new Set([
  'text',
  'identifier',
  'name',
  'telecom',
  'address',
  'photo',
  'contact',
  'communication',
  'generalPractitioner',
  'managingOrganization',
  'link',
  'meta',
  'note',
  'display',
  'extension',
  'udiCarrier',
  'maritalStatus',
  'multipleBirthBoolean',
  'multipleBirthInteger',
  'insurance',
  'attachment',
]);

/** Members whose text is one of a standard's or a code system's. */
const CODED: ReadonlySet<string> = new Set([
  'resourceType',
  'status',
  'intent',
  'priority',
  'gender',
  'comparator',
  'type',
  'mode',
  'linkId',
  'questionnaire',
]);

/** Members that hold a date by their name. */
const DATED = /(?:Date|DateTime|Instant|On)$|^(?:start|end|issued|authored|created|date)$/;

const CODE = /^\S{1,64}$/;
const SYSTEM = /^(?:https?:\/\/|urn:)\S{1,200}$/;
/** Units are short and hold no words; what else stands there is free text. */
const UNIT = /^[A-Za-z0-9/%{}[\]().°'"µ*^-]{1,20}$/;
const TYPE = /^[A-Z][A-Za-z]+$/;

function cleanResource(
  resource: JsonObject,
  names: NewNames,
  input: RemovalInput,
  fullUrl: string | undefined,
): JsonObject {
  const cleaned = cleanObject(resource, names, input);
  return { ...cleaned, id: names.idOf(resource, fullUrl) };
}

function cleanObject(value: JsonObject, names: NewNames, input: RemovalInput): JsonObject {
  const kept = Object.entries(value).flatMap(([key, member]) => {
    const cleaned = cleanMember(key, member, names, input);
    return cleaned === undefined ? [] : [[key, cleaned] as const];
  });
  return Object.fromEntries(kept);
}

function cleanMember(key: string, member: unknown, names: NewNames, input: RemovalInput): unknown {
  if (key === 'id' || key.startsWith('_') || DROPPED.has(key)) return undefined;
  // Groups tie a plan to its order: the tie is kept, its number is not.
  if (key === 'requisition' || key === 'groupIdentifier') return names.groupOf(member);
  // That there is a modifier turns the meaning around; what it says is not read.
  if (key === 'modifierExtension') return [{ url: 'https://record.example/removed', valueBoolean: true }];
  if (key === 'contained')
    return objectsIn(member).map((inner) => cleanResource(inner, names, input, undefined));
  return cleanValue(key, member, names, input);
}

function cleanValue(key: string, value: unknown, names: NewNames, input: RemovalInput): unknown {
  if (typeof value === 'string') return cleanText(key, value, names, input);
  if (typeof value === 'number' || typeof value === 'boolean') return value;
  if (Array.isArray(value)) {
    const kept = value.flatMap((item: unknown) => {
      const cleaned = cleanValue(key, item, names, input);
      return cleaned === undefined ? [] : [cleaned];
    });
    return kept.length > 0 ? kept : undefined;
  }
  const inner = asObject(value);
  if (!inner) return undefined;
  const cleaned = cleanObject(inner, names, input);
  return Object.keys(cleaned).length > 0 ? cleaned : undefined;
}

function cleanText(key: string, text: string, names: NewNames, input: RemovalInput): string | undefined {
  if (key === 'reference') return names.referenceTo(text);
  if (key === 'system') return SYSTEM.test(text) ? text : undefined;
  if (key === 'code') return CODE.test(text) ? text : undefined;
  if (key === 'unit') return UNIT.test(text) ? text : undefined;
  if (key === 'birthDate') return shiftedDate(text, input.shiftDays)?.slice(0, 'yyyy'.length);
  if (CODED.has(key)) return CODE.test(text) ? text : undefined;
  return DATED.test(key) ? shiftedDate(text, input.shiftDays) : undefined;
}

/** Gives every resource, reference and group a name of its own, the same wherever it is met. */
class NewNames {
  readonly #references = new Map<string, string>();
  readonly #groups = new Map<string, string>();
  readonly #counts = new Map<string, number>();

  constructor(
    bundle: JsonObject,
    private readonly input: RemovalInput,
  ) {
    for (const { resource, fullUrl } of bundleEntries(bundle)) this.#enter(resource, fullUrl);
  }

  #enter(resource: JsonObject, fullUrl: string | undefined): void {
    const type = asText(resource['resourceType']) ?? 'Resource';
    const known = [...this.#keysOf(resource, fullUrl)].find((key) => this.#references.has(key));
    const given = known === undefined ? this.#next(type) : this.#references.get(known);
    for (const key of this.#keysOf(resource, fullUrl)) this.#references.set(key, given ?? '');
    for (const inner of objectsIn(resource['contained'])) {
      const id = asText(inner['id']);
      if (id !== undefined) this.#references.set(`#${id}`, `#${this.#next('contained').split('/')[1] ?? ''}`);
    }
  }

  #keysOf(resource: JsonObject, fullUrl: string | undefined): readonly string[] {
    const id = asText(resource['id']);
    const type = asText(resource['resourceType']) ?? 'Resource';
    return [
      ...(id === undefined ? [] : [`${type}/${id}`]),
      ...(fullUrl === undefined ? [] : [normaliseReference(fullUrl, this.input.fhirServer)]),
    ];
  }

  idOf(resource: JsonObject, fullUrl: string | undefined): string {
    const contained = this.#references.get(`#${asText(resource['id']) ?? ''}`);
    const known = this.#keysOf(resource, fullUrl).flatMap((key) => this.#references.get(key) ?? []);
    const name = known[0] ?? contained ?? this.#next(asText(resource['resourceType']) ?? 'Resource');
    return name.split(/[/#]/).at(-1) ?? '';
  }

  referenceTo(reference: string): string | undefined {
    const bare = normaliseReference(reference, this.input.fhirServer);
    const known = this.#references.get(bare);
    if (known !== undefined) return known;
    // Of a resource that is not here only its type is known: it stays another one.
    const type = bare.split('/').at(-2) ?? '';
    if (!TYPE.test(type)) return undefined;
    const given = this.#next(type);
    this.#references.set(bare, given);
    return given;
  }

  groupOf(identifier: unknown): JsonObject | undefined {
    const { system = '', value } = asObject(identifier) ?? {};
    if (typeof value !== 'string') return undefined;
    const key = `${String(system)}|${value}`;
    const known = this.#groups.get(key) ?? `group-${this.#groups.size + 1}`;
    this.#groups.set(key, known);
    return { system: 'https://record.example/groups', value: known };
  }

  /** The first Patient gets the name of the case; everything else its type and a number. */
  #next(type: string): string {
    const count = (this.#counts.get(type) ?? 0) + 1;
    this.#counts.set(type, count);
    const kind = type.replaceAll(/(?<=[a-z])(?=[A-Z])/g, '-').toLowerCase();
    return `${type}/${type === 'Patient' && count === 1 ? this.input.name : `${kind}-${count}`}`;
  }
}

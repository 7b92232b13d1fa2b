/** Outside JSON is never trusted to have the shape it should: these readers answer undefined instead of throwing. */

export type JsonObject = Readonly<Record<string, unknown>>;

export function asObject(value: unknown): JsonObject | undefined {
  return typeof value === 'object' && value !== null && !Array.isArray(value)
    ? (value as JsonObject)
    : undefined;
}

export function asArray(value: unknown): readonly unknown[] {
  return Array.isArray(value) ? (value as readonly unknown[]) : [];
}

export function asText(value: unknown): string | undefined {
  return typeof value === 'string' && value !== '' ? value : undefined;
}

export function asNumber(value: unknown): number | undefined {
  return typeof value === 'number' && Number.isFinite(value) ? value : undefined;
}

const NONE: readonly JsonObject[] = [];

/** All objects of an array member; anything else in it is passed over. */
export function objectsIn(value: unknown): readonly JsonObject[] {
  if (!Array.isArray(value)) return NONE;
  const items = value as readonly unknown[];
  return items.every(isObject) ? items : items.filter(isObject);
}

function isObject(value: unknown): value is JsonObject {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

import { readFileSync } from 'node:fs';
import { z } from 'zod';
import { records } from '../rulebook/evidence.js';
import type { Cited } from './source.js';

const RECORD = z.looseObject({
  id: z.string(),
  claim: z.string(),
  verified: z.string(),
  citation: z.object({
    authors: z.string().nullable(),
    journal: z.string().nullable(),
    year: z.number().nullable(),
    doi: z.string().nullable(),
    pmid: z.string().nullable(),
  }),
});

const url = new URL('../published/evidence/validation-records.json', import.meta.url);
/** Records that no rule uses and that this page needs. */
const own = new Map(
  z
    .array(RECORD)
    .parse(JSON.parse(readFileSync(url, 'utf8')))
    .map((one) => [one.id, one]),
);

/** A record of either file, with its value in the shape asked for; it throws when the record or a field is gone. */
export function evidenceRecord<Value extends z.ZodType>(
  id: string,
  shape: Value,
): Cited & { readonly value: z.output<Value> } {
  const found = own.get(id) ?? records.get(id);
  if (found === undefined) throw new Error(`no record ${id}`);
  const { citation, verified } = found;
  return { citation, verified, value: shape.parse(z.looseObject({ value: z.unknown() }).parse(found).value) };
}

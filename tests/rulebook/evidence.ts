import { readFileSync } from 'node:fs';
import { z } from 'zod';
import { recordSchema, text } from '../../src/workbench/check/evidence.js';

const record = recordSchema.loose().extend({ claim: text, population: text });

const parameter = z.object({
  id: z.string(),
  value: z.unknown(),
  unit: z.string(),
  records: z.array(z.string()),
  read_at: z.string(),
  certainty: z.string(),
  why: z.string(),
  rulebook_use: z.enum(['threshold', 'quoted only', 'do not use']),
});

function readList<Item extends z.ZodType>(name: string, item: Item): readonly z.output<Item>[] {
  const url = new URL(`../published/evidence/${name}.json`, import.meta.url);
  return z.array(item).parse(JSON.parse(readFileSync(url, 'utf8')));
}

export type EvidenceRecord = z.output<typeof record>;

/** The records and parameters of the evidence dossier that the rulebook uses, by id. */
export const records: ReadonlyMap<string, EvidenceRecord> = new Map(
  readList('records', record).map((one) => [one.id, one]),
);
export const evidenceParameters = new Map(readList('parameters', parameter).map((one) => [one.id, one]));

export function recordNamed(id: string): EvidenceRecord {
  const found = records.get(id);
  if (!found) throw new Error(`no record ${id}`);
  return found;
}

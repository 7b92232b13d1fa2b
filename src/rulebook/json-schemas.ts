import { z } from 'zod';
import { factSchema } from './fact-schema.js';
import { hazardLogSchema } from './hazard-schema.js';
import { namedConditionSchema, writtenRuleSchema } from './rule-schema.js';
import { rulebookSchema } from './rulebook-schema.js';
import { citationSchema, computationSchema, parameterGroupSchema } from './schema.js';
import {
  aliasesSchema,
  icdLateralitySchema,
  snomedLateralitySchema,
  valueSetSchema,
} from './terminology-schema.js';
import { siteSchema } from './site-schema.js';

const SCHEMAS = {
  advisory: writtenRuleSchema,
  aliases: aliasesSchema,
  citation: citationSchema,
  computation: z.union([computationSchema, parameterGroupSchema]),
  condition: namedConditionSchema,
  fact: factSchema,
  hazards: hazardLogSchema,
  'laterality-icd-10-cm': icdLateralitySchema,
  'laterality-icd-10-pcs': icdLateralitySchema,
  'laterality-snomed-ct': snomedLateralitySchema,
  rulebook: rulebookSchema,
  site: siteSchema,
  'value-set': valueSetSchema,
} as const;

/** JSON Schema of every kind of rulebook file and of the site file, by name, as text: for editors and for whoever writes rules elsewhere. */
export function jsonSchemas(): ReadonlyMap<string, string> {
  return new Map(
    Object.entries(SCHEMAS).map(([name, schema]) => [
      name,
      `${JSON.stringify(z.toJSONSchema(schema), null, 2)}\n`,
    ]),
  );
}

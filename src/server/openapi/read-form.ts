import { z } from 'zod';

/**
 * The form a value has once it is read. Long lists are measured before anything is built from their members, so what is
 * in them stands behind a pipe, where a description of the schema would not look.
 */
export function readForm(schema: z.ZodType): z.ZodType {
  if (schema instanceof z.ZodPipe) return readForm(schema.out as z.ZodType);
  if (schema instanceof z.ZodOptional) return readForm(schema.unwrap() as z.ZodType).optional();
  if (schema instanceof z.ZodArray) {
    const element = schema.element as z.ZodType;
    const read = readForm(element);
    return read === element ? schema : z.array(read);
  }
  if (schema instanceof z.ZodObject) {
    const shape = Object.entries<z.ZodType>(schema.shape);
    return schema.extend(Object.fromEntries(shape.map(([name, member]) => [name, readForm(member)])));
  }
  return schema;
}

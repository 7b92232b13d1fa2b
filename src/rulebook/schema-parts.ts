import { z } from 'zod';

/** What several kinds of rule files have in common. */

export const id = z.string().regex(/^[a-z0-9]+(?:[.-][a-z0-9]+)*$/, 'kebab-case');
export const version = z.string().regex(/^\d+\.\d+\.\d+$/, 'major.minor.patch');
export const date = z.iso.date();
export const text = z.string().min(1);

export const READ_AT = [
  'full text',
  'abstract',
  'secondary source',
  'common practice, no source',
  'proposal, no source',
  'derived here',
] as const;
export const CERTAINTIES = ['high', 'moderate', 'low', 'very low'] as const;

export const parameterReference = z.strictObject({ parameter: id });

export const ENTRIES = ['appointment-book', 'order-select', 'order-sign', 'patient-view'] as const;

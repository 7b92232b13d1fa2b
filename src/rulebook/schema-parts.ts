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

/** What an effect was measured on. */
export const ENDPOINTS = [
  'dislocation',
  'reduction-coded',
  'readmission-for-dislocation',
  'revision-for-dislocation',
  'revision',
  'infection',
  'loosening-or-lysis',
  'wear',
  'nerve-injury',
  'muscle-and-function',
  'range-of-motion',
  'component-position',
  'device-failure',
  'measurement',
  'fracture',
  'frequency',
  'guidance',
] as const;

/** Kinds of data about a person whose use is declared: source attributes 5 to 13 of 45 CFR 170.315(b)(11)(iv)(A). */
export const DATA_USES = [
  'race',
  'ethnicity',
  'language',
  'sexual-orientation',
  'gender-identity',
  'sex',
  'date-of-birth',
  'social-determinants',
  'health-status-assessments',
] as const;

export const dataUse = z.strictObject({ used: z.boolean(), how: text });

import type { Rulebook } from '../../rulebook/types.js';
import { readChecked } from '../checked-file.js';
import type { Checked } from '../checked-file.js';
import { readTestPatients } from '../test-patients.js';
import { meaningsSchema, publishedCodesSchema } from './code-schema.js';
import { codedCases } from './coded-cases.js';
import { readEdgeCases } from './edge-cases.js';
import { casesOf } from './trial-case.js';
import type { TrialCase } from './trial-case.js';

/** Where the cases of a trial stand; what is left out is not tried. */
export interface CaseFolders {
  readonly patients: string;
  readonly edges?: string;
  readonly codes?: { readonly published: string; readonly meanings: string };
}

/** Reads test patients, then the edge cases made of them, then single codes. */
export function readCases(folders: CaseFolders, rulebook: Rulebook): Checked<readonly TrialCase[]> {
  const patients = readTestPatients(folders.patients);
  if (!patients.ok) return patients;
  const edges =
    folders.edges === undefined ? NONE : readEdgeCases(folders.edges, { patients: patients.value, rulebook });
  const codes = folders.codes === undefined ? NONE : readCodedCases(folders.codes, rulebook);
  if (!edges.ok) return edges;
  if (!codes.ok) return codes;
  return { ok: true, value: [...casesOf(patients.value), ...edges.value, ...codes.value] };
}

const NONE: Checked<readonly TrialCase[]> = { ok: true, value: [] };

function readCodedCases(
  { published, meanings }: NonNullable<CaseFolders['codes']>,
  rulebook: Rulebook,
): Checked<readonly TrialCase[]> {
  const codes = readChecked(published, publishedCodesSchema);
  if (!codes.ok) return codes;
  const means = readChecked(meanings, meaningsSchema);
  return means.ok ? { ok: true, value: codedCases(codes.value, means.value, rulebook) } : means;
}

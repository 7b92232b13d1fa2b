import { ICD_10_CM, ICD_10_PCS, SNOMED_CT } from '../../fhir/codings.js';
import { OWN_DIAGNOSES } from '../check/code-forms.js';

/** Short names of code systems in fixtures, such as `sct|52734007`. */
export const SYSTEMS: Readonly<Record<string, string>> = {
  icd: ICD_10_CM,
  pcs: ICD_10_PCS,
  sct: SNOMED_CT,
  loinc: 'http://loinc.org',
  own: OWN_DIAGNOSES,
};

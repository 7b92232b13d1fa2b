/** How the codes of one system look. */
export interface CodeForm {
  readonly said: string;
  readonly isCode: (code: string) => boolean;
  /** Whether a code stands for everything below it, and how such a category looks. */
  readonly isCategory?: (code: string) => boolean;
}

export const ICD_10_CM = 'http://hl7.org/fhir/sid/icd-10-cm';
export const ICD_10_PCS = 'http://www.cms.gov/Medicare/Coding/ICD10';
export const SNOMED_CT = 'http://snomed.info/sct';
export const LOINC = 'http://loinc.org';
export const DICOM = 'http://dicom.nema.org/resources/ontology/DCM';
/** Our own codes of diagnoses, where no standard code was read. */
export const OWN_DIAGNOSES = 'https://kotyle.example/fhir/CodeSystem/hip-diagnosis';

const isIcd = (code: string): boolean => /^[A-Z]\d[0-9A-Z](?:\.[0-9A-Z]{1,4})?$/.test(code);

/** The code systems that value sets may use. */
export const CODE_FORMS: ReadonlyMap<string, CodeForm> = new Map<string, CodeForm>([
  [
    ICD_10_CM,
    { said: 'an ICD-10-CM code, its dot after the third character', isCode: isIcd, isCategory: isIcd },
  ],
  [
    ICD_10_PCS,
    {
      said: 'an ICD-10-PCS code, seven characters without I and O, or the beginning of one',
      isCode: (code) => /^[0-9A-HJ-NP-Z]{7}$/.test(code),
      isCategory: (code) => /^[0-9A-HJ-NP-Z]{2,7}$/.test(code),
    },
  ],
  [
    SNOMED_CT,
    {
      said: 'a SNOMED CT concept identifier with a right check digit',
      isCode: (code) => /^[1-9]\d{2,14}[01]0\d$/.test(code) && passesVerhoeff(code),
    },
  ],
  [
    LOINC,
    {
      said: 'a LOINC code with a right check digit',
      isCode: (code) => /^\d{1,7}-\d$/.test(code) && passesMod10(code),
    },
  ],
  [DICOM, { said: 'a DICOM code of digits', isCode: (code) => /^\d{6}$/.test(code) }],
  [
    OWN_DIAGNOSES,
    { said: 'a code of ours, words joined by hyphens', isCode: (code) => /^[a-z]+(?:-[a-z]+)*$/.test(code) },
  ],
]);

/** Verhoeff's check: the last digit makes the running product over the dihedral group D5 come out as 0. */
export function passesVerhoeff(digits: string): boolean {
  const product = Array.from(digits, Number)
    .reverse()
    .reduce((sum, digit, place) => inD5(sum, permuted(digit, place % 8)), 0);
  return product === 0;
}

/** Five rotations (0-4) and five reflections (5-9). */
function inD5(a: number, b: number): number {
  const turned = a < 5 ? (a + b) % 5 : (a - b + 5) % 5;
  return a < 5 === b < 5 ? turned : turned + 5;
}

const PERMUTATION = [1, 5, 7, 6, 2, 8, 3, 0, 9, 4] as const;

function permuted(digit: number, times: number): number {
  return times === 0 ? digit : permuted(PERMUTATION[digit] ?? Number.NaN, times - 1);
}

/** LOINC's check digit, modulo 10 with every second digit doubled from the right. */
export function passesMod10(code: string): boolean {
  const [number = '', check = ''] = code.split('-');
  const sum = Array.from(number, Number)
    .reverse()
    .map((digit, place) => (place % 2 === 0 ? digit * 2 : digit))
    .reduce((total, digit) => total + (digit > 9 ? digit - 9 : digit), 0);
  return (10 - (sum % 10)) % 10 === Number(check);
}

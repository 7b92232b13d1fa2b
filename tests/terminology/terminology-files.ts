// Reads the value sets, the laterality tables and the published copy they are compared with.
import { readdirSync, readFileSync } from 'node:fs';
import { basename, join } from 'node:path';

export type Side = 'left' | 'right' | 'bilateral';

interface Concept {
  readonly code: string;
  readonly display?: string;
}

export interface Part {
  readonly system?: string;
  readonly concept?: readonly Concept[];
  readonly filter?: readonly { readonly property: string; readonly op: string; readonly value: string }[];
  readonly valueSet?: readonly string[];
}

export interface ValueSet {
  readonly resourceType: string;
  readonly id: string;
  readonly url: string;
  readonly name: string;
  readonly status: string;
  readonly experimental: boolean;
  readonly description: string;
  readonly copyright?: string;
  readonly compose?: { readonly include: readonly Part[]; readonly exclude?: readonly Part[] };
}

export interface PublishedCode {
  readonly system: string;
  readonly code: string;
  readonly display?: string;
  readonly termSide?: Side | null;
  readonly is_prefix: boolean;
  readonly verified: string;
  readonly source: string;
}

export const icd = 'http://hl7.org/fhir/sid/icd-10-cm';
export const snomed = 'http://snomed.info/sct';
export const loinc = 'http://loinc.org';
export const pcs = 'http://www.cms.gov/Medicare/Coding/ICD10';
export const dicom = 'http://dicom.nema.org/resources/ontology/DCM';
/** Our own codes of diagnoses, where no standard code was read. */
export const ownDiagnoses = 'https://kotyle.example/fhir/CodeSystem/hip-diagnosis';
const root = join(import.meta.dirname, '..', '..');

export const read = (...path: string[]): unknown => JSON.parse(readFileSync(join(root, ...path), 'utf8'));
const jsonFiles = (...path: string[]): string[] =>
  readdirSync(join(root, ...path))
    .filter((name) => name.endsWith('.json'))
    .sort();

export const main = jsonFiles('rules', 'value-sets').map((file) => ({
  file: basename(file, '.json'),
  set: read('rules', 'value-sets', file) as ValueSet,
}));
export const overlay = jsonFiles('rules', 'value-sets', 'snomed-overlay').map((file) => ({
  file: basename(file, '.json'),
  set: read('rules', 'value-sets', 'snomed-overlay', file) as ValueSet,
}));
export const publishedConcepts = read('tests', 'published', 'terminology', 'codes.json') as readonly {
  readonly concept: string;
  readonly kind: string;
  readonly codes: readonly PublishedCode[];
}[];
export const published = publishedConcepts.flatMap((concept) => concept.codes);
export const april2026 = Object.values(
  read('tests', 'published', 'terminology', 'icd-10-cm-april-2026.json') as Record<string, readonly string[]>,
).flat();
/** Billable codes with their titles. */
export const april2025 = read('tests', 'published', 'terminology', 'icd-10-cm-april-2025.json') as Readonly<
  Record<string, string>
>;
export const key = (system: string, code: string): string => `${system}|${code}`;
export const publishedByKey = new Map<string, PublishedCode>();
for (const code of published) publishedByKey.set(key(code.system, code.code), code);

export const parts = (set: ValueSet): readonly Part[] => [
  ...(set.compose?.include ?? []),
  ...(set.compose?.exclude ?? []),
];
export const exactCodes = (set: ValueSet): { system: string; code: string; display: string | undefined }[] =>
  parts(set).flatMap((part) =>
    (part.concept ?? []).map(({ code, display }) => ({ system: part.system ?? '', code, display })),
  );
export const prefixes = (set: ValueSet): string[] =>
  parts(set).flatMap((part) => (part.filter ?? []).map((filter) => filter.value));

export const plain = (code: string): string => code.toUpperCase().replace('.', '');
export const mainSet = (id: string): ValueSet => {
  const found = main.find(({ set }) => set.id === id);
  if (found === undefined) throw new Error(`no value set ${id}`);
  return found.set;
};

export const sideNamedBy = (text: string): Side | undefined =>
  /\b(left|right|bilateral)\b/i.exec(text)?.[1]?.toLowerCase() as Side | undefined;
export const sideOf = (code: PublishedCode): Side | undefined =>
  code.display === undefined ? (code.termSide ?? undefined) : sideNamedBy(code.display);

export const snomedSides = read('rules', 'code-systems', 'laterality-snomed-ct.json') as {
  readonly sidedCodes: Readonly<Record<string, Side>>;
  readonly sidedSites: Readonly<Record<string, Side>>;
  readonly hipSites: readonly string[];
  readonly sides: Readonly<Record<string, Side>>;
};

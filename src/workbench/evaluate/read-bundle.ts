import { bundleEntries } from '../../fhir/bundle.js';
import { asObject, asText } from '../../fhir/json.js';
import type { JsonObject } from '../../fhir/json.js';
import { jsonFault } from './json-fault.js';

/** A Bundle with one patient in it, or why a text is none; the message says what was expected, found and where. */
export type PatientBundle =
  | { readonly ok: true; readonly bundle: JsonObject; readonly patientId: string }
  | { readonly ok: false; readonly message: string; readonly advice?: string };

/** Reads a Bundle with exactly one Patient. `where` names the text for messages: a file, a line, standard input. */
export function readPatientBundle(text: string, where: string): PatientBundle {
  if (text.trim() === '')
    return { ok: false, message: `${where}: expected a FHIR Bundle, found nothing in it` };
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    return { ok: false, message: brokenJson(text, where) };
  }
  return patientBundle(value, where);
}

function brokenJson(text: string, where: string): string {
  const fault = jsonFault(text);
  if (!fault) return `${where}: broken JSON`;
  const { line, column, expected, found } = fault;
  return `${where}: broken JSON at line ${line}, column ${column}: expected ${expected}, found ${found}`;
}

/** The same for a value already parsed. */
export function patientBundle(value: unknown, where: string): PatientBundle {
  const bundle = asObject(value);
  if (bundle?.['resourceType'] !== 'Bundle')
    return {
      ok: false,
      message: `${where}: expected a FHIR R4 Bundle, found ${kindOf(value)}`,
      advice:
        'put the patient and everything recorded into one Bundle, as in fixtures/patients/*/bundle.json',
    };
  const ids = bundleEntries(bundle).flatMap(({ resource }) =>
    resource['resourceType'] === 'Patient' ? [asText(resource['id']) ?? ''] : [],
  );
  const different = [...new Set(ids)];
  const [patientId] = different;
  if (patientId === undefined)
    return {
      ok: false,
      message: `${where}: expected one Patient in the Bundle, found ${contentsOf(bundle)}`,
    };
  if (patientId === '')
    return { ok: false, message: `${where}: expected a Patient with an id, found one without` };
  if (different.length > 1)
    return {
      ok: false,
      message: `${where}: expected one Patient in the Bundle, found ${different.length}: ${different.join(', ')}`,
      advice: 'one Bundle for each patient, or --cohort for many',
    };
  return { ok: true, bundle, patientId };
}

function kindOf(value: unknown): string {
  const type = asText(asObject(value)?.['resourceType']);
  if (type !== undefined) return `a ${type}`;
  if (value === null) return 'null';
  if (Array.isArray(value)) return 'a list';
  return typeof value === 'object' ? 'an object without resourceType' : `a ${typeof value}`;
}

/** What a Bundle holds, by type and count: `1 Patient, 3 Condition`. */
export function contentsOf(bundle: JsonObject): string {
  const counts = new Map<string, number>();
  for (const { resource } of bundleEntries(bundle)) {
    const type = asText(resource['resourceType']) ?? 'unknown';
    counts.set(type, (counts.get(type) ?? 0) + 1);
  }
  if (counts.size === 0) return 'no resources';
  return [...counts].map(([type, count]) => `${count} ${type}`).join(', ');
}

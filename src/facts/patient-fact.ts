import { readFhirDate } from '../base/dates.js';
import type { Interval } from '../base/interval.js';
import { asText } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import type { PatientDefinition } from './definitions.js';
import { unknownFact } from './fact.js';
import type { Fact, FactValue } from './fact.js';

/** Administrative genders that say something here; `other` and `unknown` do not. */
export const SEXES = ['female', 'male'] as const;

/** What the Patient resource says of a person; unknown where it was not sent or does not say. */
export function patientFact(
  { id, of, unit }: PatientDefinition,
  patient: { readonly resource: JsonObject; readonly name: string } | undefined,
  now: number,
): Fact {
  const shape = { ...(unit !== undefined && { unit }) };
  if (!patient) return unknownFact(id, 'set-not-read', { ...shape, setsMissing: ['patient'] });
  const value = of === 'age' ? ageOf(patient.resource, now) : sexOf(patient.resource);
  if (!value) return unknownFact(id, 'not-recorded', shape);
  return {
    id,
    state: { status: 'present', value },
    ...shape,
    error: 0,
    provenance: { from: [patient.name] },
    remarks: [],
  };
}

function sexOf({ gender }: JsonObject): FactValue | undefined {
  return SEXES.some((sex) => sex === gender) ? { kind: 'code', codes: [String(gender)] } : undefined;
}

/** Completed years; between two where only a year or month of birth is stated. */
function ageOf(resource: JsonObject, now: number): FactValue | undefined {
  const born = asText(resource['birthDate']);
  const span = readFhirDate(born);
  if (born === undefined || !span || span.from > now) return undefined;
  const today = new Date(now).toISOString().slice(0, 10);
  const [year = '', month, day] = born.slice(0, 10).split('-');
  const interval: Interval = {
    low: yearsSince(`${year}-${month ?? '12'}-${day ?? '31'}`, today),
    high: yearsSince(`${year}-${month ?? '01'}-${day ?? '01'}`, today),
  };
  return { kind: 'quantity', interval };
}

function yearsSince(born: string, today: string): number {
  const years = Number(today.slice(0, 4)) - Number(born.slice(0, 4));
  return Math.max(0, today.slice(5) < born.slice(5) ? years - 1 : years);
}

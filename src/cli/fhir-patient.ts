import { pino } from 'pino';
import type { ServerRecord } from '../advice/hook-inputs.js';
import { setsOf } from '../advice/record-sets.js';
import type { Site } from '../rulebook/site.js';
import type { Rulebook } from '../rulebook/types.js';
import { normaliseBase } from '../server/fallback/base-url.js';
import { newRecordReader } from '../server/fallback/record-reader.js';
import { CallError } from './io.js';

/** Where a patient is read from. */
export interface PatientAddress {
  readonly server: string;
  readonly patientId: string;
  readonly token?: string;
}

const BUDGET_MS = 30_000;
const FHIR_ID = /^[A-Za-z0-9\-.]{1,64}$/;

/**
 * Reads every set the services ask for from a FHIR server, as the service itself would: each with how it arrived, so
 * that what could not be read stays unknown. CallError when the Patient can't be had.
 */
export async function readFromServer(
  { server, patientId, token }: PatientAddress,
  { rulebook, site }: { readonly rulebook: Rulebook; readonly site?: Site },
): Promise<ServerRecord> {
  const base = normaliseBase(server);
  if (base === undefined)
    throw new CallError(
      '--fhir-server: expected the http or https base URL of a FHIR server, found something else',
      'such as https://record.example/fhir',
    );
  if (!FHIR_ID.test(patientId))
    throw new CallError(
      '--patient: expected a FHIR id of letters, digits, hyphens and dots, found something else',
    );
  const log = pino({ level: 'silent' });
  const session = newRecordReader({ allowed: [base], budgetMs: BUDGET_MS, log }).open({
    fhirServer: base,
    ...(token !== undefined && { accessToken: token }),
  });
  if (!session) throw new Error('the only server allowed was refused');
  const sets = await session.readSets(setsOf(patientId, rulebook, site));
  const patient = sets.get('patient');
  if (patient?.status !== 'complete')
    throw new CallError(
      `expected Patient/${patientId} on ${base}, found none: ${patient && 'why' in patient ? patient.why : 'not asked'}`,
      token === undefined
        ? 'check the id and the address; --token-file names a file with a token'
        : undefined,
    );
  return { base, patientId, sets };
}

import { startFhirServer } from '../fhir-server/fhir-server.js';
import { recordOf } from './bodies.js';

/** A FHIR server that holds the record of the patient named on the command line. */
const { origin } = await startFhirServer(recordOf(process.argv[2] ?? ''), { pageSize: 1000 });
process.stdout.write(`${new URL(origin).port}\n`);

import type { Command } from 'commander';
import { NOBODY } from '../../server/auth/caller.js';
import { newPseudonyms } from '../../store/pseudonym.js';
import { CallError } from '../io.js';
import type { Io } from '../io.js';
import { settings, withStore } from '../kept-store.js';

interface ForgetOptions {
  readonly patient: string;
  readonly iss: string;
  readonly fhirServer?: string;
}

/** Adds `forget`: destroys the key of what is kept of one patient. */
export function forgetCommand(program: Command, io: Io): void {
  program
    .command('forget')
    .description("destroy the key of a patient's contents and comments; records stay, as pseudonyms")
    .requiredOption('--patient <id>', 'the id the record system knows the patient by')
    .option('--iss <client>', 'the client that called for this patient', NOBODY)
    .option('--fhir-server <url>', 'the FHIR server that client named in its calls')
    .addHelpText('after', HELP)
    .action(async (options: ForgetOptions) => {
      const { patient: id, iss, fhirServer } = options;
      const config = settings();
      if (!config.pseudonymKey)
        throw new CallError('KOTYLE_PSEUDONYM_KEY: expected the key of the service, found none');
      const names = newPseudonyms(config.pseudonymKey);
      // A client may leave its server out of some calls: both names are the patient's.
      const subjects = [{ iss, id }, ...(fhirServer === undefined ? [] : [{ iss, id, fhirServer }])];
      await withStore(config, io, async (store) => {
        let [contents, keys, wiped] = [0, 0, true];
        for (const subject of subjects) {
          const forgotten = await store.forget(names.patient(subject));
          contents += forgotten.contents;
          keys += forgotten.hadKey ? 1 : 0;
          wiped = forgotten.wiped;
        }
        io.out(`${contents} contents and comments removed, ${keys} keys destroyed\n`);
        if (!wiped)
          io.err(
            'kotyle: another process reads the database, so that what was removed still stands in its log; call this again later\n',
          );
        io.setExitCode(wiped ? 0 : 1);
      });
    });
}

const HELP = `
The store and its keys are those of the service: KOTYLE_STORE, KOTYLE_PSEUDONYM_KEY. Copies made before (backups, the
log of a PostgreSQL server) hold the wrapped key until they are gone; without KOTYLE_CONTENT_KEY it opens nothing.
Ends with 0 also when nothing was kept of the patient.

Examples:
  kotyle forget --patient 123 --iss https://ehr.example --fhir-server https://ehr.example/fhir`;

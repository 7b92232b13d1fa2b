import { signatureOf } from '../../rulebook/governance.js';
import type { Client } from '../auth/clients-file.js';
import type { Config } from '../config.js';
import type { Installation } from '../installation.js';

type Setting = `KOTYLE_${string}`;
type Fault = readonly [setting: Setting, expected: string, found: string];

/**
 * What keeps a service from starting in production: every setting that is missing or wrong, named at once. Nothing that
 * matters is left to a default there.
 */
export function productionFaults(
  config: Config,
  installation: Installation,
  clients: readonly Client[],
): readonly string[] {
  if (config.mode !== 'production') return [];
  const faults = [
    ...addressFaults(config),
    ...(config.clients === undefined ? [missing('KOTYLE_CLIENTS', 'the file of clients that may call')] : []),
    ...storeFaults(config),
    ...fhirFaults(config, clients),
    ...browserFaults(config),
    ...signatureFaults(config, installation),
  ];
  return faults.map(([setting, expected, found]) => `${setting}: expected ${expected}, found ${found}`);
}

function missing(setting: Setting, expected: string): Fault {
  return [setting, expected, 'nothing'];
}

function addressFaults({ publicUrl, tlsInFront }: Config): readonly Fault[] {
  const url: readonly Fault[] =
    publicUrl === undefined
      ? [missing('KOTYLE_PUBLIC_URL', 'the https URL at which clients reach the service')]
      : publicUrl.startsWith('https:')
        ? []
        : [['KOTYLE_PUBLIC_URL', 'an https URL', 'an http URL']];
  return tlsInFront
    ? url
    : [...url, ['KOTYLE_TLS_IN_FRONT', 'true, where TLS ends in front of this process', 'false']];
}

function storeFaults({ store, stated, pseudonymKey, contentKey }: Config): readonly Fault[] {
  const faults: Fault[] = [];
  if (!stated.has('KOTYLE_STORE')) faults.push(missing('KOTYLE_STORE', 'a SQLite file or a PostgreSQL URL'));
  else if (store === ':memory:')
    faults.push(['KOTYLE_STORE', 'a SQLite file or a PostgreSQL URL', ':memory:, which forgets']);
  if (!pseudonymKey) faults.push(missing('KOTYLE_PSEUDONYM_KEY', 'a key of at least 32 bytes in base64'));
  if (!contentKey) faults.push(missing('KOTYLE_CONTENT_KEY', 'a key of at least 32 bytes in base64'));
  if (pseudonymKey && contentKey?.equals(pseudonymKey))
    faults.push(['KOTYLE_CONTENT_KEY', 'a key of its own', 'the same as KOTYLE_PSEUDONYM_KEY']);
  return faults;
}

function fhirFaults({ fhirServers, stated }: Config, clients: readonly Client[]): readonly Fault[] {
  const faults: Fault[] = [];
  if (!stated.has('KOTYLE_FHIR_SERVERS'))
    faults.push(missing('KOTYLE_FHIR_SERVERS', 'base URLs, or none for no outbound call'));
  for (const base of fhirServers.filter((one) => !one.startsWith('https:')))
    faults.push(['KOTYLE_FHIR_SERVERS', 'https URLs', base]);
  for (const { iss, fhirServers: own = [] } of clients)
    for (const base of own.filter((one) => !fhirServers.includes(one)))
      faults.push(['KOTYLE_CLIENTS', `fhirServers of ${iss} that KOTYLE_FHIR_SERVERS lists too`, base]);
  return faults;
}

function browserFaults({ corsOrigins, frameAncestors }: Config): readonly Fault[] {
  const unsafe = (setting: Setting, origins: readonly string[]): readonly Fault[] =>
    origins.filter((one) => one.startsWith('http:')).map((one) => [setting, 'https origins', one]);
  return [...unsafe('KOTYLE_CORS_ORIGINS', corsOrigins), ...unsafe('KOTYLE_FRAME_ANCESTORS', frameAncestors)];
}

/** What is signed may be edited later and is then silent; a rulebook nobody ever signed is not even started with. */
function signatureFaults({ site }: Config, { advisor, site: loaded }: Installation): readonly Fault[] {
  if (site === undefined)
    return [missing('KOTYLE_SITE', 'the site file, with an approval of the rulebook in it')];
  const { rulebook } = advisor;
  const signature = signatureOf({ rulebook, ...(loaded && { site: loaded }) });
  if (signature !== 'none') return [];
  return [['KOTYLE_SITE', `an approval of ${rulebook.hash}, or of site and rulebook together`, 'none']];
}

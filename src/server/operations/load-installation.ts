import { COMPUTATION_IDS, newAdvisor } from '../../advice/index.js';
import { loadPack } from '../../rulebook-files/load-pack.js';
import { loadRulebook } from '../../rulebook-files/load-rulebook.js';
import { loadSite } from '../../rulebook-files/read-site.js';
import type { Rulebook } from '../../rulebook/types.js';
import type { Client } from '../auth/clients-file.js';
import type { Config } from '../config.js';
import type { Installation } from '../installation.js';
import { productionFaults } from '../security/production-faults.js';
import { adviceIssues } from './readiness.js';

export interface LoadSettings {
  readonly config: Config;
  readonly clients: readonly Client[];
  /** The rulebook shipped with the program, used where no pack is named. */
  readonly shippedRules: string;
  readonly engineVersion: string;
}

/**
 * Reads rulebook and site, checks them together and for the mode they are used in, and has them answer the built-in
 * call. Rejects with every fault, each with the setting it came through: a service never runs on half of it.
 */
export async function loadInstallation(settings: LoadSettings): Promise<Installation> {
  const { config, clients, engineVersion } = settings;
  const rulebook = rulebookOf(settings);
  const { site: file } = config;
  const site = file === undefined ? undefined : named('KOTYLE_SITE', () => loadSite(file, rulebook));
  const installation = { advisor: newAdvisor(rulebook), ...(site && { site }) };
  refuse('the settings are not those of production', productionFaults(config, installation, clients));
  const issues = await adviceIssues(installation, engineVersion)();
  refuse(
    'the built-in patient is not answered rightly',
    issues.map(({ path, message }) => `${path}: ${message}`),
  );
  return installation;
}

function refuse(why: string, faults: readonly string[]): void {
  if (faults.length > 0) throw new Error(`${why}:\n${faults.join('\n')}`);
}

function rulebookOf({ config: { rulebook: pack }, shippedRules }: LoadSettings): Rulebook {
  if (pack === undefined) return loadRulebook(shippedRules, COMPUTATION_IDS);
  return named('KOTYLE_RULEBOOK', () => loadPack(pack, COMPUTATION_IDS));
}

/** Puts the name of the setting before whatever is wrong with what it names. */
function named<Value>(setting: string, load: () => Value): Value {
  try {
    return load();
  } catch (cause) {
    throw new Error(`${setting}: ${cause instanceof Error ? cause.message : 'unknown'}`, { cause });
  }
}
